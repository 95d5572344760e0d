"""Bad plans: each is told in a sentence with its line, and nothing is computed."""

import os

import pytest

from tests.study.batch.plans import SITE_TEXT, put_plan, put_site, refusal
from yieldkit.base.errors import InputError
from yieldkit.study.batch.runs import runs_of

BASE = "base: site.yaml\n"


def axes(*lines, more=""):
    return BASE + "axes:\n" + "".join(f"  - {line}\n" for line in lines) + more


TILT = "{name: tilt, path: planes.west.tilt_deg, values: [20, 30]}"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            axes("{name: tilt, path: planes.west.tlit_deg, values: [20]}"),
            "plan.yaml line 3, axes.0.path 'planes.west.tlit_deg': got the key 'tlit_deg'; "
            "expected "
            "one of 'name', 'tilt_deg'",
        ),
        (
            axes("{name: tilt, path: planes.wset.tilt_deg, values: [20]}"),
            "plan.yaml line 3, axes.0.path 'planes.wset.tilt_deg': got the key 'wset'; "
            "expected one "
            "of 'west', 'east'. Did you mean 'west'?",
        ),
        (
            axes(
                "{name: n, path: wirings.plain.trackers.C.strings.0.groups.0.modules, values: [1]}"
            ),
            "got the key 'C'; expected one of 'A', 'B'.",
        ),
        (
            axes("{name: tilt, path: 'planes.\"west.tilt_deg', values: [20]}"),
            "plan.yaml line 3, axes.0.path 'planes.\"west.tilt_deg': got the part "
            "'\"west.tilt_deg'; "
            "expected quotes around a whole part. Close the quotes before the next dot.",
        ),
        (
            axes("{name: tilt, path: planes.west, values: [20]}"),
            "plan.yaml line 3, axes.0.path: got 'planes.west', a whole part of the site; "
            "expected a "
            "path to one value. Go on to one of its keys: name, tilt_deg",
        ),
        (
            axes("{name: tilt, path: planes.west.tilt_deg.x, values: [20]}"),
            "got a path through 30; expected a path of keys.",
        ),
        (
            axes("{name: tilt, path: planes.west.tilt_deg, values: [20, steep]}"),
            "plan.yaml line 3, axes.0.values.1: got 'steep'; expected numbers, as the first "
            "value of "
            "this axis. Put text in quotes, and numbers without.",
        ),
        (
            axes("{name: tilt, path: planes.west.tilt_deg, values: [20, true]}"),
            "plan.yaml line 3, axes.0.values.1: got true; expected numbers",
        ),
        (
            axes("{name: tilt, path: planes.west.tilt_deg, values: [20, 30, 20.0]}"),
            "plan.yaml line 3, axes.0.values.2: got 20 again; expected each value once.",
        ),
        (
            axes("{name: tilt, path: planes.west.tilt_deg, values: [20, 120]}"),
            "plan.yaml line 3, axes.0.values.1: got 120 for planes.west.tilt_deg; expected degrees "
            "from horizontal, 0 to 90. A roof pitch of 120 % or degrees? A pitch of 120 % is 50.2 "
            "degrees: write 50.2.",
        ),
        (
            axes("{name: tilt, path: planes.west.tilt_deg, range: {first: 10, last: 99, step: 1}}"),
            "plan.yaml line 3, axes.0.range: got 99 for planes.west.tilt_deg; expected degrees",
        ),
        (
            axes("{name: sky, path: models.transposition, values: [perez-driesse, perez]}"),
            "plan.yaml line 3, axes.0.values.1: got 'perez' for models.transposition; expected one "
            "of 'isotropic', 'hay-davies', 'reindl', 'perez-1990', 'perez-driesse'.",
        ),
        (
            axes("{name: n, path: planes.west.modules, values: [12.5]}"),
            "got 12.5 for planes.west.modules; expected a whole number. Is it 12?",
        ),
        (
            axes(
                "{name: tilt, path: planes.west.tilt_deg, range: {first: 10, last: 20, step: -5}}"
            ),
            "plan.yaml line 3, axes.0.range: got from 10 to 20 in steps of -5, which never ends; "
            "expected a step that leads from first to last. Write step: 5.",
        ),
        (
            axes("{name: tilt, path: planes.west.tilt_deg, range: {first: 10, last: 20, step: 0}}"),
            "got from 10 to 20 in steps of 0, which never ends; expected a step that leads",
        ),
        (
            axes(
                "{name: tilt, path: planes.west.tilt_deg, range: {first: 0, last: 90, step: 1e-6}}"
            ),
            "got 90,000,000 numbers; expected at most 1,000,000 on an axis.",
        ),
        (
            axes("{name: tilt, path: planes.west.tilt_deg, range: {first: 10, last: 20}}"),
            "plan.yaml line 3, axes.0.range: got neither step nor count; expected one of the two.",
        ),
        (
            axes(
                "{name: t, path: planes.west.tilt_deg, range: {first: 1, last: 2, step: 1, "
                "count: 2}}"
            ),
            "got a step and a count; expected one of the two.",
        ),
        (
            axes("{name: t, path: planes.west.tilt_deg, range: {first: 1, last: 2, count: 1}}"),
            "got one number from 1 to 2; expected two or more numbers between different ends.",
        ),
        (
            axes(
                "{name: t, path: planes.west.tilt_deg, values: [1], range: {first: 1, last: "
                "2, step: 1}}"
            ),
            "plan.yaml line 3, axes.0.range: got values and a range; expected one of the two.",
        ),
        (
            axes("{name: tilt, path: planes.west.tilt_deg}"),
            "plan.yaml line 3, axes.0: got no values; expected values, or a range.",
        ),
        (
            axes("{name: tilt, path: planes.west.tilt_deg, values: []}"),
            "plan.yaml line 3, axes.0: got no values; expected values, or a range.",
        ),
        (
            axes("{name: tilt, path: planes.west.tilt_deg, values: [[20]]}"),
            "plan.yaml line 3, axes.0.values.0: got a list of 1; expected a number, text, or "
            "true or "
            "false.",
        ),
        (
            axes(TILT, "{name: again, path: planes.0.tilt_deg, values: [25]}"),
            "plan.yaml line 4, axes.1: got the axis 'again' on planes.west.tilt_deg, which 'tilt' "
            "varies already; expected a place of its own for every axis. Put all values on "
            "one axis, "
            "or make the two a group that goes together.",
        ),
        (
            axes(
                "{name: n, kind: string_length, tracker: A, values: [9]}",
                "{name: m, path: wirings.plain.trackers.A.strings.1.groups.0.modules, values: [9]}",
            ),
            "plan.yaml line 4, axes.1: got the axis 'm' on "
            "wirings.plain.trackers.A.strings.1.groups.0.modules, which 'n' varies already",
        ),
        (
            axes(
                "{name: p, path: inverter.ac.nominal_power_w, values: [9000]}",
                "{name: ratio, kind: dc_ac_ratio, values: [1.2]}",
            ),
            "got the axis 'ratio' on inverter.ac.nominal_power_w, which 'p' varies already",
        ),
        (
            axes(TILT, "{name: tilt, path: planes.east.tilt_deg, values: [25]}"),
            "plan.yaml line 4, axes.1.name: got the name 'tilt' again; expected a name of its own "
            "for every axis. First in plan.yaml line 3, axes.0.name.",
        ),
        (
            axes("{name: my tilt, path: planes.west.tilt_deg, values: [25]}"),
            "plan.yaml line 3, axes.0.name: got 'my tilt'; expected a word of letters, "
            "digits and _ "
            "that begins with a letter.",
        ),
        (
            axes("{name: wiring, path: planes.west.tilt_deg, values: [25]}"),
            "got 'wiring'; expected another word: 'wiring' has a meaning of its own in conditions "
            "or tables.",
        ),
        (
            axes(
                "{name: g, together: [{name: a, path: planes.west.tilt_deg, values: [1, 2]}, "
                "{name: b, path: planes.east.tilt_deg, values: [1, 2, 3]}]}"
            ),
            "plan.yaml line 3, axes.0.together: got members of unequal length: a 2, b 3; expected "
            "as many values in each: the first of all, the second of all, and so on. Make them "
            "separate axes to run every combination.",
        ),
        (
            axes("{name: k, kind: colour, values: [1]}"),
            "plan.yaml line 3, axes.0.kind: got 'colour'; expected one of 'key', 'module_type'",
        ),
        (
            axes("{name: k, kind: module_type, values: [M541]}"),
            "plan.yaml line 3, axes.0.values.0: got the module type 'M541'; expected one of "
            "'M540', "
            "'M400'. Did you mean 'M540'?",
        ),
        (
            axes("{name: k, kind: module_type, plane: wst, values: [M540]}"),
            "plan.yaml line 3, axes.0.plane: got the plane 'wst'; expected one of 'west', 'east'. "
            "Did you mean 'west'?",
        ),
        (
            axes("{name: k, kind: string_length, tracker: C, values: [9]}"),
            "plan.yaml line 3, axes.0.tracker: got the input 'C'; expected one of 'A', 'B'.",
        ),
        (
            axes("{name: k, kind: string_length, tracker: B, values: [9]}"),
            "plan.yaml line 3, axes.0: got a string of west and east on 'B' in the wiring "
            "'crossed'; expected strings of one plane each. Leave that wiring out of `wirings`, or "
            "vary the modules of each group by its path.",
        ),
        (
            axes("{name: k, kind: dc_ac_ratio, inverter: hall, values: [1.2]}"),
            "plan.yaml line 3, axes.0.inverter: got the inverter 'hall'; expected 'Inverter "
            "(invented)'.",
        ),
        (
            axes("{name: k, kind: dc_ac_ratio, values: [0]}"),
            "plan.yaml line 3, axes.0.values.0: got 0; expected a number above 0.",
        ),
        (
            axes("{name: y, kind: weather, files: 'years/*.csv'}"),
            "plan.yaml line 3, axes.0.files.0: got the pattern 'years/*.csv', which no file "
            "matches; "
            "expected a pattern of files that are there. It counts from the plan's folder, ",
        ),
        (
            axes("{name: y, kind: weather, files: sit.yaml}"),
            "plan.yaml line 3, axes.0.files.0: got 'sit.yaml', which is not there; expected a "
            "weather file. Did you mean 'site.yaml'?",
        ),
        (
            axes("{name: y, kind: weather, files: [site.yaml, '*.yaml']}"),
            "got the file 'site.yaml' again; expected each file once.",
        ),
        (
            axes("{name: h, kind: site, files: site.yaml}"),
            "plan.yaml line 1, base: got a base beside the axis 'h' of site files; expected one of "
            "the two.",
        ),
        (
            "axes:\n  - {name: h, kind: site, files: site.yaml}\n"
            "  - {name: i, kind: site, files: site.yaml}\n",
            "plan.yaml line 3, axes.1: got a second axis of site files; expected one; list "
            "all files "
            "there.",
        ),
        (
            "base: sit.yaml\n",
            "plan.yaml line 1, base: got 'sit.yaml', which is not there; expected a site file. Did "
            "you mean 'site.yaml'?",
        ),
        (
            BASE + "wirings: [plan]\n",
            "plan.yaml line 2, wirings.0: got the wiring 'plan'; expected one of 'plain', "
            "'crossed'. "
            "Did you mean 'plain'?",
        ),
        (
            BASE + "wirings: [plain, plain]\n",
            "plan.yaml line 2, wirings.1: got 'plain' again; expected each wiring once.",
        ),
        (
            BASE + "wirings: some\n",
            "plan.yaml line 2, wirings: got 'some'; expected all, permitted, 'proposed: N' "
            "below it, "
            "or a list of names.",
        ),
        (
            BASE + "wirings: {proposed: 0}\n",
            "expected 'proposed: N' with a whole number from 1 to 1000.",
        ),
        (
            axes(TILT, more="leave_out: [\"__import__('os').system('x')\"]\n"),
            "plan.yaml line 4, leave_out.0: got '__import__('os').system('x')' in the condition "
            "'__import__('os').system('x')'; expected a condition such as",
        ),
        (
            axes(TILT, more="leave_out:\n  - tilt == 20\n  - tlit == 30\n"),
            "plan.yaml line 6, leave_out.1: got the name 'tlit' in the condition 'tlit == 30'; "
            "expected one of 'tilt', 'wiring'. Did you mean 'tilt'?",
        ),
        (
            axes(TILT, more="leave_out: [tilt >= 20]\n"),
            "plan.yaml line 4, leave_out.0: got conditions that leave out all 4 runs; expected at "
            "least one run.",
        ),
        (
            axes(TILT, more="keep: {hourly: [p_acc]}\n"),
            "plan.yaml line 4, keep.hourly.0: got the variable 'p_acc'; expected one of "
            "'poa_global'",
        ),
        (axes(TILT, more="keep: {hourly: [p_acc]}\n"), "Did you mean 'p_ac'?"),
        (
            BASE + "axis: []\n",
            "plan.yaml line 2, axis: got the unknown key 'axis'; expected a key of the schema. Did "
            "you mean 'axes'?",
        ),
        (
            BASE + "folder: /\n",
            "plan.yaml line 2, folder: got the unknown key 'folder'; expected a key of the schema. "
            "Paths count from the plan's own folder.",
        ),
        (
            BASE + "zzz: 1\n",
            "plan.yaml line 2, zzz: got the unknown key 'zzz'; expected a key of the schema. See "
            "`yieldkit sweep --example`.",
        ),
        (BASE + "axes: 3\n", "plan.yaml line 2, axes: got 3; expected a list."),
        (
            "- a\n",
            "plan.yaml: got a list of 1 alone; expected keys and values. `yieldkit sweep "
            "--example` "
            "writes a start.",
        ),
        (BASE + "axes: [\n", "plan.yaml line 3, column 1: got "),
    ],
)
def test_each_is_a_sentence_with_its_line(tmp_path, text, said):
    assert said in refusal(tmp_path, text)


def test_a_missing_plan_is_told(tmp_path):
    put_plan(tmp_path, BASE, "plans.yaml")
    with pytest.raises(InputError, match=r"expected a plan\. Did you mean 'plans.yaml'\?"):
        runs_of(tmp_path / "plan.yaml")
    with pytest.raises(InputError, match="`yieldkit sweep --example` writes one to start from"):
        runs_of(tmp_path / "zzzzzzz.yaml")
    with pytest.raises(
        InputError, match=r"got a path to a folder; expected a plan\. Save the plan"
    ):
        runs_of(tmp_path)


def test_a_site_file_that_is_not_sound_is_told_with_its_own_lines(tmp_path):
    put_site(tmp_path, SITE_TEXT.replace("tilt_deg: 30", "tilt_deg: 300", 1))
    assert "site.yaml line 37, planes.0.tilt_deg: got 300" in refusal(tmp_path, BASE)


def test_no_wiring_passes_every_check(tmp_path):
    said = refusal(tmp_path, BASE + "wirings: permitted\n")
    start = (
        "plan.yaml line 2, wirings: got no wiring of site.yaml that passes every check ('plain': "
    )
    assert said.startswith(start)
    assert "'crossed': " in said
    assert said.endswith(
        "expected at least one that is permitted. Mend the site, or write wirings: all."
    )


def test_what_the_ranking_refuses_is_told_of_the_plan(tmp_path):
    put_site(tmp_path, SITE_TEXT.replace("west, modules: 24", "west, modules: 100000"))
    said = refusal(tmp_path, BASE + "wirings: {proposed: 3}\n")
    assert said.startswith("plan.yaml line 2, wirings (site.yaml, ")


def test_an_inverter_of_a_list_has_one_size(tmp_path):
    row = "{kind: sandia-list, row: 'ABB__MICRO_0_25_I_OUTD_US_208__208V_'}"
    begin = SITE_TEXT.index("  efficiency:\n")
    end = SITE_TEXT.index("  derating:\n")
    put_site(tmp_path, SITE_TEXT[:begin] + f"  efficiency: {row}\n" + SITE_TEXT[end:])
    said = refusal(tmp_path, axes("{name: r, kind: dc_ac_ratio, values: [1.2]}"))
    assert said == (
        "plan.yaml line 3, axes.0: got the inverter 'Inverter (invented)', whose efficiency "
        "is a row "
        "of a list; expected an inverter with a table of efficiencies or weighted figures. A row's "
        "losses are those of its own size."
    )


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root reads anything")
def test_a_weather_file_that_cannot_be_read_is_told(tmp_path):
    (tmp_path / "sun.csv").write_text("x")
    (tmp_path / "sun.csv").chmod(0)
    said = refusal(tmp_path, axes("{name: y, kind: weather, files: sun.csv}"))
    assert "a file that can't be read (Permission denied)" in said
