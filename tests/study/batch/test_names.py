"""Names of runs: the same for the same result, another for anything that a result depends on."""

import json
import shutil
from pathlib import Path

import pytest

from tests.study.batch.plans import SITE_TEXT, put_site, runs_in
from yieldkit.base.shipped import shipped
from yieldkit.config.models.plan import Plan
from yieldkit.config.plan import conditions
from yieldkit.config.reading.schema_walk import Schema
from yieldkit.config.site.site import Site
from yieldkit.config.site.written_back import NAMED_FILES
from yieldkit.study.batch import families, names
from yieldkit.study.batch.run import site_of

PLAN = """\
    base: site.yaml
    axes:
      - {name: tilt, path: planes.west.tilt_deg, values: [20, 30]}
    wirings: [plain]
    """


def named(folder, text=PLAN, site=SITE_TEXT):
    """Return the runs' names by their values."""
    put_site(folder, site)
    return {(*dict(run.axes).values(), run.wiring): run.name for run in runs_in(folder, text)}


def test_a_name_is_32_hexadecimal_digits_and_the_same_every_time(tmp_path):
    first = named(tmp_path)
    assert all(len(name) == 32 and int(name, 16) >= 0 for name in first.values())
    assert named(tmp_path) == first


def test_what_a_plan_calls_things_is_in_no_name(tmp_path):
    other = (
        PLAN.replace("name: tilt", "name: slope")
        .replace("planes.west.", "planes.0.")
        .replace("[20, 30]", "[30.0, 20.0, 40]")
        .replace("[plain]", "[usual]")
        + "keep: {monthly: true}\n"
    )
    renamed = SITE_TEXT.replace("name: plain", "name: usual").replace(
        "invented: true", "invented: true\nnotes: looked at again", 1
    )
    before = named(tmp_path)
    after = named(tmp_path, other, renamed)
    assert [after[tilt, "usual"] for tilt in (20, 30)] == [
        before[tilt, "plain"] for tilt in (20, 30)
    ]
    assert len(set(after.values())) == 3


def test_a_folder_that_moves_keeps_its_names(tmp_path):
    for folder in ("here", "there"):
        (tmp_path / folder).mkdir()
    sun = shipped("weather", "typical-year-45n-8e.csv")
    text = SITE_TEXT.replace("file: typical-year-45n-8e", "file: sun.csv")
    found = []
    for folder in ("here", "there"):
        shutil.copy(sun, tmp_path / folder / "sun.csv")
        found.append(named(tmp_path / folder, site=text))
    assert found[0] == found[1]


def test_the_same_weather_under_another_name_is_the_same_run(tmp_path):
    shutil.copy(shipped("weather", "typical-year-45n-8e.csv"), tmp_path / "mine.csv")
    text = """\
        base: site.yaml
        axes:
          - {name: year, kind: weather, files: mine.csv}
        wirings: [plain]
        """
    put_site(tmp_path)
    (run,) = runs_in(tmp_path, text)
    assert run.changes == ()
    assert run.name == named(tmp_path)[30, "plain"]
    assert dict(run.axes) == {"year": "mine"}


def test_a_value_equal_to_the_sites_is_the_same_as_no_axis(tmp_path):
    (alone,) = named(tmp_path, "base: site.yaml\nwirings: [plain]\n").values()
    assert named(tmp_path)[30, "plain"] == alone


def test_an_axis_that_makes_no_difference_makes_no_other_run(tmp_path):
    text = """\
        base: site.yaml
        axes:
          - {name: n, path: wirings.plain.trackers.B.strings.0.groups.0.modules, values: [8, 9]}
        """
    found = named(tmp_path, text)
    assert found[8, "plain"] != found[9, "plain"]
    assert found[8, "crossed"] == found[9, "crossed"]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("latitude: 52.0", "latitude: 52.1"),
        ("west, tilt_deg: 30, azimuth_deg: 270", "west, tilt_deg: 30, azimuth_deg: 271"),
        ("p_max_w: 540", "p_max_w: 541"),
        ("max_input_current_a: 26", "max_input_current_a: 25"),
        ("nominal_power_w: 15000", "nominal_power_w: 15001"),
        ("format: canonical", "format: canonical, fill_gaps_up_to_h: 1"),
        ("groups: [{plane: west, modules: 12}]", "groups: [{plane: west, modules: 11}]"),
    ],
)
def test_anything_in_the_site_makes_another_name(tmp_path, old, new):
    before = named(tmp_path)
    after = named(tmp_path, site=SITE_TEXT.replace(old, new, 1))
    assert not set(before.values()) & set(after.values())


def test_another_wiring_is_none_of_a_runs_business(tmp_path):
    crossed = SITE_TEXT.replace("modules: 6}, {plane: east", "modules: 5}, {plane: east")
    assert named(tmp_path, site=crossed) == named(tmp_path)


# What must make another name. Each is a check that a wrong way of naming fails below.


def edited_weather(folder, _monkeypatch):
    """Return names before and after one value of the weather file was edited."""
    sun = shipped("weather", "typical-year-45n-8e.csv").read_text(encoding="utf-8")
    text = SITE_TEXT.replace("file: typical-year-45n-8e", "file: sun.csv")
    (folder / "sun.csv").write_text(sun, encoding="utf-8")
    before = named(folder, site=text)
    begin, end = sun[: len(sun) // 2], sun[len(sun) // 2 :]
    digit = next(at for at, sign in enumerate(end) if sign.isdecimal())
    changed = end[:digit] + ("1" if end[digit] != "1" else "2") + end[digit + 1 :]
    (folder / "sun.csv").write_text(begin + changed, encoding="utf-8")
    return before, named(folder, site=text)


def edited_load(folder, _monkeypatch):
    """Return names before and after one value of a table of loads was edited."""
    text = SITE_TEXT + "grid: {load: {kind: series, file: load.csv}}\n"
    found = []
    for watts in (300, 301):
        (folder / "load.csv").write_text(f"time,load_w\n2021-01-01 00:00,{watts}\n")
        found.append(named(folder, site=text))
    return tuple(found)


def other_sources(folder, monkeypatch, place="physics/module/temperature.py"):
    """Return names before and after one sign of the package's sources was edited."""
    before = named(folder)
    copied = folder / "package"
    package = Path(names.__file__).parents[2]
    for wing in (*names._COMPUTING, "cli", "report"):
        shutil.copytree(package / wing, copied / wing)
    monkeypatch.setattr(names, "_PACKAGE", copied)
    names.sources.cache_clear()
    same = named(folder)
    assert same == before
    path = copied / place
    path.write_text(path.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    names.sources.cache_clear()
    return before, named(folder)


def other_versions(folder, monkeypatch):
    """Return names before and after a library's version changed."""
    before = named(folder)
    told = {**json.loads(names.versions()), "pvlib": "0.0"}
    monkeypatch.setattr(names, "versions", lambda: json.dumps(told))
    return before, named(folder)


CHECKS = [edited_weather, edited_load, other_sources, other_versions]


@pytest.fixture(autouse=True)
def sources_anew():
    """Let no test see another's sources."""
    yield
    names.sources.cache_clear()


@pytest.mark.parametrize("check", CHECKS)
def test_whatever_a_result_depends_on_makes_another_name(tmp_path, monkeypatch, check):
    before, after = check(tmp_path, monkeypatch)
    assert before.keys() == after.keys()
    assert not set(before.values()) & set(after.values())


def test_tables_of_standards_are_sources_and_pages_are_not(tmp_path, monkeypatch):
    table = "design/standards/grid_profiles.csv"
    (tmp_path / "a").mkdir()
    before, after = other_sources(tmp_path / "a", monkeypatch, table)
    assert not set(before.values()) & set(after.values())
    monkeypatch.undo()
    names.sources.cache_clear()
    (tmp_path / "b").mkdir()
    before, after = other_sources(tmp_path / "b", monkeypatch, "report/figures/roof.py")
    assert before == after


def weather_by_its_path(monkeypatch):
    """Name the weather by where it lies."""
    monkeypatch.setattr(names.FileHashes, "of", lambda self, file: str(file))


def without_sources(monkeypatch):
    """Leave the sources out."""
    right = names.ingredients_of
    monkeypatch.setattr(
        families, "ingredients_of", lambda *given: {**right(*given), "sources": "none"}
    )


def without_versions(monkeypatch):
    """Leave the versions out."""
    right = names.ingredients_of
    monkeypatch.setattr(
        families, "ingredients_of", lambda *given: {**right(*given), "versions": "none"}
    )


def without_other_files(monkeypatch):
    """Count the weather's bytes alone."""
    monkeypatch.setattr(families, "NAMED_FILES", (("weather", "file"),))


@pytest.mark.parametrize(
    ("wrong", "check"),
    [
        (weather_by_its_path, edited_weather),
        (without_other_files, edited_load),
        (without_sources, other_sources),
        (without_versions, other_versions),
    ],
)
def test_a_wrong_way_of_naming_fails_its_check(tmp_path, monkeypatch, wrong, check):
    wrong(monkeypatch)
    before, after = check(tmp_path, monkeypatch)
    assert set(before.values()) & set(after.values())


def test_conditions_run_as_code_would_be_found_out(tmp_path, monkeypatch):
    """A condition that is evaluated runs whatever a plan says; ours runs nothing."""
    said = "__import__('pathlib').Path('touched').touch() is None"
    monkeypatch.chdir(tmp_path)
    eval(said)
    assert (tmp_path / "touched").exists()
    (tmp_path / "touched").unlink()
    with pytest.raises(Exception, match="in the condition"):
        conditions.read_condition(said, {"tilt": (1, 2)}, "plan.yaml line 3")
    assert not (tmp_path / "touched").exists()


def test_every_file_that_a_site_can_name_counts_by_its_bytes():
    places = {
        (*path.split("."), name) if path else (name,)
        for name, paths in Schema(Site).places_of().items()
        for path in paths
        if name == "file" or name.endswith("_file")
    }
    assert places == set(NAMED_FILES)
    assert "file" not in Schema(Plan).places_of()


def test_a_change_of_place_leads_to_its_variant(tmp_path):
    text = """\
        base: site.yaml
        axes:
          - {name: lat, path: site.latitude, values: [51.5]}
          - {name: sky, path: models.transposition, values: [reindl]}
          - {name: monitored, path: inverter.residual_current_monitor, values: [true]}
        wirings: [plain]
        """
    put_site(tmp_path)
    runs = runs_in(tmp_path, text)
    (run,) = runs
    site = site_of(runs.bases, run)
    assert (site.site.latitude, site.models.transposition) == (51.5, "reindl")
    assert site.inverter.residual_current_monitor is True
    assert len(run.changes) == 3
