"""What the kinds of axes change in a site."""

import itertools

import pytest

from tests.config.dumped import dump_site
from tests.study.batch.plans import SITE_TEXT, put_site, runs_in
from tests.study.several import twice
from yieldkit.base.errors import InputError
from yieldkit.base.shipped import shipped
from yieldkit.config.plan.file import example_text
from yieldkit.config.site.files import read_site_text, site_from_mapping
from yieldkit.study.batch.run import site_of


def sites(runs):
    """Return every run with its site."""
    return [(dict(run.axes), run, site_of(runs.bases, run)) for run in runs]


def axis(tmp_path, line, wirings="[plain]"):
    return runs_in(tmp_path, f"base: site.yaml\naxes:\n  - {line}\nwirings: {wirings}\n")


@pytest.mark.parametrize(
    ("range_", "expected"),
    [
        ("{first: 10, last: 30, step: 10}", [10, 20, 30]),
        ("{first: 30, last: 10, step: -10}", [30, 20, 10]),
        ("{first: 10, last: 29.9, step: 10}", [10, 20]),
        ("{first: 0.1, last: 0.7, step: 0.1}", [0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7]),
        ("{first: 0, last: 10, count: 5}", [0, 2.5, 5, 7.5, 10]),
        ("{first: 5, last: 5, count: 1}", [5]),
        ("{first: 5, last: 5, step: 1}", [5]),
    ],
)
def test_a_range_has_both_ends_and_even_steps(tmp_path, range_, expected):
    runs = axis(tmp_path, f"{{name: tilt, path: planes.west.tilt_deg, range: {range_}}}")
    assert [dict(run.axes)["tilt"] for run in runs] == expected


def test_a_range_of_whole_numbers_counts_modules(tmp_path):
    line = "{name: n, path: planes.east.modules, range: {first: 12, last: 16, step: 2}}"
    assert [site.planes[1].modules for *_, site in sites(axis(tmp_path, line))] == [12, 14, 16]


def test_paths_go_by_names_numbers_inputs_and_quotes(tmp_path):
    text = SITE_TEXT.replace("name: east,", 'name: "east 1.5",')
    put_site(tmp_path, text.replace("plane: east,", 'plane: "east 1.5",'))
    runs = runs_in(
        tmp_path,
        """\
        base: site.yaml
        axes:
          - {name: tilt, path: 'planes."east 1.5".tilt_deg', values: [11]}
          - {name: other, path: planes.0.tilt_deg, values: [12]}
          - {name: part, path: wirings.plain.trackers.B.strings.0.groups.0.modules, values: [7]}
          - {name: window, path: inverter.mppts.A.mpp_voltage_min_v, values: [170]}
        """,
    )
    found = {run.wiring: site for _, run, site in sites(runs)}
    plain, crossed = found["plain"], found["crossed"]
    assert [plane.tilt_deg for plane in plain.planes] == [12, 11]
    assert plain.wirings[0].trackers[1].strings[0].groups[0].modules == 7
    assert plain.inverter.mppts[0].mpp_voltage_min_v == 170
    # What belongs to another wiring is no change of this one.
    assert crossed.wirings[0].trackers[1].strings[0].groups[0].modules == 6
    changes = {run.wiring: dict(run.changes) for run in runs}
    assert changes["plain"]['planes."east 1.5".tilt_deg'] == 11
    assert not any("wirings" in path for path in changes["crossed"])


def test_members_of_a_group_go_together(tmp_path):
    line = (
        "{name: both, together: [{name: tilt, path: planes.west.tilt_deg, values: [10, 20]},"
        " {name: kind, kind: module_type, plane: east, values: [M400, M540]}]}"
    )
    runs = axis(tmp_path, line)
    found = [
        (a["tilt"], a["kind"], s.planes[0].tilt_deg, s.planes[1].module_type)
        for a, _, s in sites(runs)
    ]
    assert found == [(10, "M400", 10, "M400"), (20, "M540", 20, "M540")]
    assert [dimension.name for dimension in runs.dimensions] == ["both", "wiring"]
    assert runs.dimensions[0].coordinates == {"tilt": (10, 20), "kind": ("M400", "M540")}


def test_module_types_go_on_all_planes_or_one(tmp_path):
    every = axis(tmp_path, "{name: kind, kind: module_type, values: [M400]}")
    assert [plane.module_type for plane in sites(every)[0][2].planes] == ["M400", "M400"]
    one = axis(tmp_path, "{name: kind, kind: module_type, plane: west, values: [M400]}")
    assert [plane.module_type for plane in sites(one)[0][2].planes] == ["M400", "M540"]


def test_string_length_is_that_of_every_string_on_an_input(tmp_path):
    line = "{name: n, kind: string_length, tracker: A, values: [9, 12]}"
    runs = axis(tmp_path, line, "all")
    found = {
        (said["n"], run.wiring): [
            [group.modules for string in tracker.strings for group in string.groups]
            for tracker in site.wirings[0].trackers
        ]
        for said, run, site in sites(runs)
    }
    assert found[9, "plain"] == [[9, 9], [12]]
    assert found[12, "plain"] == [[12, 12], [12]]
    assert found[9, "crossed"] == [[9], [6, 6]]


def test_a_string_too_long_for_its_plane_fails_alone_and_is_said_before(tmp_path):
    line = "{name: n, kind: string_length, tracker: B, values: [12, 30]}"
    runs = axis(tmp_path, line)
    short, long = list(runs)
    assert site_of(runs.bases, short).wirings[0].trackers[1].strings[0].groups[0].modules == 12
    with pytest.raises(InputError, match="got 30 modules of plane 'east' wired in 'plain'"):
        site_of(runs.bases, long)
    (said,) = runs.cautions
    assert said == (
        "plan.yaml line 3, axes.0.values.1: 30 alone makes no sound site (got 30 modules of plane "
        "'east' wired in 'plain'; expected no more than the 12 it has). Runs whose other axes "
        "don't mend that fail."
    )


def test_a_mistake_in_another_wiring_fails_no_run(tmp_path):
    line = "{name: n, path: planes.west.modules, values: [18]}"
    runs = axis(tmp_path, line, "all")
    by_wiring = {run.wiring: run for run in runs}
    assert site_of(runs.bases, by_wiring["crossed"]).planes[0].modules == 18
    with pytest.raises(InputError, match="got 24 modules of plane 'west'"):
        site_of(runs.bases, by_wiring["plain"])


def rated(site):
    side = site.single_inverter.ac
    points = [point.max_power_w for point in site.single_inverter.derating]
    return [side.nominal_power_w, side.max_apparent_power_va, side.max_current_a, *points]


RATED = SITE_TEXT.replace(
    "nominal_power_w: 15000, phases",
    "nominal_power_w: 15000, max_apparent_power_va: 16000, max_current_a: 24, phases",
)


def test_the_dc_ac_ratio_is_of_the_modules_wired_and_scales_every_ac_rating(tmp_path):
    put_site(tmp_path, RATED)
    runs = axis(tmp_path, "{name: ratio, kind: dc_ac_ratio, values: [1.2, 1.6]}", "all")
    # Wired: 36 modules of 540 W in one wiring, 24 in the other.
    for said, run, site in sites(runs):
        power = 540.0 * (36 if run.wiring == "plain" else 24)
        factor = power / (15000.0 * said["ratio"])
        wanted = [rating * factor for rating in (15000, 16000, 24, 15000, 9000)]
        assert rated(site) == pytest.approx(wanted, rel=1e-11)
        assert site.single_inverter.ac.export_limit_w is None


def test_the_dc_ac_ratio_follows_modules_and_strings_of_other_axes(tmp_path):
    put_site(tmp_path, RATED)
    text = """\
        base: site.yaml
        axes:
          - {name: ratio, kind: dc_ac_ratio, values: [1.25]}
          - {name: kind, kind: module_type, plane: east, values: [M540, M400]}
          - {name: n, kind: string_length, tracker: A, values: [10, 12]}
          - {name: p, path: module_types.M540.p_max_w, values: [540, 543]}
        wirings: [plain]
        """
    for said, _, site in sites(runs_in(tmp_path, text)):
        east = 400.0 if said["kind"] == "M400" else said["p"]
        power = 2 * said["n"] * said["p"] + 12 * east
        assert rated(site)[0] == pytest.approx(power / 1.25, rel=1e-11)


def test_a_ratio_that_the_site_has_is_no_change(tmp_path):
    ratio = 36 * 540 / 15000
    runs = axis(tmp_path, f"{{name: ratio, kind: dc_ac_ratio, values: [{ratio}]}}")
    assert [run.changes for run in runs] == [()]


def test_inverters_are_varied_each_for_itself(tmp_path):
    put_site(tmp_path, dump_site(twice()))
    text = """\
        base: site.yaml
        axes:
          - {name: north, kind: dc_ac_ratio, inverter: north, values: [1.1]}
          - {name: south, kind: dc_ac_ratio, inverter: south, values: [1.4]}
          - {name: n, kind: string_length, tracker: south / MPPT 3, values: [6]}
          - {name: lead, path: inverters.north.lead.cross_section_mm2, values: [16]}
          - name: cable
            path: wirings.lopsided.trackers.north / MPPT 2.strings.0.cable.cross_section_mm2
            values: [10]
        wirings: [lopsided]
        """
    runs = runs_in(tmp_path, text)
    ((_, _, site),) = sites(runs)
    nominal = [one.site.single_inverter.ac.nominal_power_w for one in site.each_inverter()]
    assert nominal == pytest.approx([48 * 430 / 1.1, 47 * 430 / 1.4], rel=1e-11)
    assert [one.lead.cross_section_mm2 for one in site.inverters] == [16, 6]
    trackers = site.wirings[0].trackers
    assert [t.strings[0].groups[0].modules for t in trackers if t.mppt == "MPPT 3"] == [7, 6]
    assert trackers[1].strings[0].cable.cross_section_mm2 == 10
    assert trackers[4].strings[0].cable.cross_section_mm2 == 4


def weather_files(tmp_path, *names):
    folder = tmp_path / "years"
    folder.mkdir()
    for name in names:
        text = shipped("weather", "typical-year-45n-8e.csv").read_text(encoding="utf-8")
        lines = text.splitlines(keepends=True)
        (folder / name).write_text("".join(lines) + f"# {name}\n", encoding="utf-8")


def test_weather_files_are_found_by_pattern_from_the_plans_folder(tmp_path, monkeypatch):
    weather_files(tmp_path, "b.csv", "a.csv", "other.txt")
    (tmp_path / "houses").mkdir()
    put_site(tmp_path / "houses")
    monkeypatch.chdir("/")
    runs = runs_in(
        tmp_path,
        """\
        base: houses/site.yaml
        axes:
          - {name: year, kind: weather, files: ["years/*.csv", typical-year-45n-8e]}
        wirings: [plain]
        """,
    )
    assert [dict(run.axes)["year"] for run in runs] == ["a", "b", "typical-year-45n-8e"]
    assert [site.weather.file for *_, site in sites(runs)] == [
        "../years/a.csv",
        "../years/b.csv",
        "typical-year-45n-8e",
    ]
    assert [run.weather_file.resolve() for run in runs][:2] == [
        tmp_path / "years" / "a.csv",
        tmp_path / "years" / "b.csv",
    ]


def test_site_files_are_an_axis_each_with_its_own_wirings(tmp_path):
    put_site(tmp_path)
    (tmp_path / "more").mkdir()
    alone = SITE_TEXT.replace("name: crossed", "name: bent")
    put_site(tmp_path / "more", alone, "barn.yaml")
    put_site(tmp_path / "more", SITE_TEXT, "site.yaml")
    runs = runs_in(
        tmp_path,
        """\
        axes:
          - {name: house, kind: site, files: [site.yaml, "more/*.yaml"]}
          - {name: tilt, path: planes.west.tilt_deg, values: [20, 35]}
        leave_out: ["house == 'barn' and tilt == 20"]
        """,
    )
    found = [(*dict(run.axes).values(), run.wiring) for run in runs]
    own = f"{tmp_path.name}/site.yaml"
    assert found == [
        (own, 20, "plain"),
        (own, 20, "crossed"),
        (own, 35, "plain"),
        (own, 35, "crossed"),
        ("barn", 35, "plain"),
        ("barn", 35, "bent"),
        ("more/site.yaml", 20, "plain"),
        ("more/site.yaml", 20, "crossed"),
        ("more/site.yaml", 35, "plain"),
        ("more/site.yaml", 35, "crossed"),
    ]
    assert (len(runs), runs.left_out) == (10, 2)
    # The same content under other names is the same run, and computed once.
    names = {run.name for run in runs}
    assert len(names) == 4
    assert [run.site_file.name for run in runs.in_order()][:4] == ["site.yaml"] * 4


@pytest.mark.parametrize(
    ("wirings", "expected"),
    [
        ("all", ["plain", "crossed"]),
        ("[crossed]", ["crossed"]),
        ("[crossed, plain]", ["crossed", "plain"]),
    ],
)
def test_wirings_are_all_or_named(tmp_path, wirings, expected):
    runs = axis(tmp_path, "{name: tilt, path: planes.west.tilt_deg, values: [20]}", wirings)
    assert [run.wiring for run in runs] == expected


def test_what_is_left_out_is_counted_without_making_it(tmp_path):
    text = """\
        base: site.yaml
        axes:
          - {name: tilt, path: planes.west.tilt_deg, range: {first: 0, last: 40, count: 401}}
          - {name: azimuth, path: planes.west.azimuth_deg, range: {first: 0, last: 350, step: 1}}
          - name: soiling
            path: planes.west.soiling_loss_percent
            range: {first: 0, last: 9, count: 10}
        leave_out:
          - tilt >= 20 and wiring == 'crossed'
          - tilt > 39.95
        """
    runs = runs_in(tmp_path, text)
    every = 401 * 351 * 10 * 2
    assert runs.left_out == 351 * 10 * (201 + 1)
    assert len(runs) == every - runs.left_out


def test_the_demonstration_is_the_base_where_none_is_named(tmp_path):
    runs = runs_in(tmp_path, "wirings: [lopsided]\n")
    (run,) = runs
    assert (run.site_file.name, run.axes, run.changes) == ("demo.yaml", (), ())


def test_the_example_is_a_sound_plan_of_the_demonstration(tmp_path):
    runs = runs_in(tmp_path, example_text())
    assert (len(runs), runs.left_out, runs.cautions) == (144, 72, ())
    for run in itertools.islice(runs, 0, None, 13):
        site_of(runs.bases, run)


def test_the_only_inverter_of_a_list_need_not_be_named(tmp_path):
    content = read_site_text(RATED).model_dump(exclude_defaults=True)
    kind = content.pop("inverter")
    content |= {"schema_version": 2, "inverter_types": [kind]}
    content["inverters"] = [{"name": "hall", "type": kind["name"]}]
    put_site(tmp_path, dump_site(site_from_mapping(content)))
    ((_, run, site),) = sites(axis(tmp_path, "{name: r, kind: dc_ac_ratio, values: [1.2]}"))
    assert rated(site)[0] == pytest.approx(36 * 540 / 1.2, rel=1e-11)
    assert "inverter_types.Inverter (invented).ac.nominal_power_w" in dict(run.changes)
