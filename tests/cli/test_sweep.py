"""The command that runs a plan: what it says, what it leaves in a folder, and how it ends."""

import re

import pandas as pd
import pytest

import yieldkit
from tests.config.dumped import dump_site
from tests.study.sites import variant
from yieldkit.base.shipped import shipped
from yieldkit.cli import main as cli
from yieldkit.cli import sweep as cli_sweep
from yieldkit.study.batch import explained

pytestmark = pytest.mark.slow

PLAN = """\
base: houses/barn.yaml
axes:
  - {name: tilt, path: planes.west roof.tilt_deg, values: [20, 35]}
  - {name: east, kind: string_length, tracker: MPPT 2, values: [13, 15]}
wirings: [one plane per tracker]
leave_out: [tilt == 35 and east == 15]
"""
DAYS = 12


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """Return a folder of a site with its own weather under a relative path, and a plan."""
    folder = tmp_path_factory.mktemp("place")
    for name in ("houses", "sun"):
        (folder / name).mkdir()
    lines = shipped("weather", "typical-year-45n-8e.csv").read_text("utf-8").splitlines(True)
    first = next(at for at, line in enumerate(lines) if line.startswith("20")) + 170 * 24
    head = [line for line in lines[:200] if not line.startswith("20")]
    days = head + lines[first : first + DAYS * 24]
    (folder / "sun" / "days.csv").write_text("".join(days), encoding="utf-8")
    site = variant({"weather.file": "typical-year-45n-8e"})
    text = dump_site(site).replace("file: typical-year-45n-8e", "file: ../sun/days.csv")
    (folder / "houses" / "barn.yaml").write_text(text, encoding="utf-8")
    (folder / "plan.yaml").write_text(PLAN, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def done(place, tmp_path_factory):
    """Return the folder of a batch that was run from another working directory."""
    out = tmp_path_factory.mktemp("out") / "batch"
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir("/")
        assert cli.main(["sweep", str(place / "plan.yaml"), "--out", str(out)]) == 3
    return out


def said(capsys, *arguments):
    """Return a command's exit code, its answer and its remarks."""
    code = cli.main(["sweep", *map(str, arguments)])
    told = capsys.readouterr()
    return code, told.out, told.err


def table(folder):
    return pd.read_parquet(folder / "runs.parquet")


def test_a_dry_run_counts_and_computes_nothing(place, tmp_path, capsys):
    out = tmp_path / "batch"
    code, answer, _ = said(capsys, place / "plan.yaml", "--out", out, "--dry-run")
    assert code == 0
    assert answer.startswith(
        "Plan plan.yaml: 3 runs (1 left out by its conditions)\n"
        "  tilt    2: 20, 35\n"
        "  east    2: 13, 15\n"
        "  wiring  1: one plane per tracker\n"
        "The folder has 0 of them (0 failed); 3 are to be computed.\n"
        "\nThe first runs (number, name, values):\n     0  "
    )
    assert "tilt 20, east 13, wiring 'one plane per tracker'" in answer.replace(
        "\n" + " " * 18, (" ")
    )
    assert not out.exists()


def test_a_batch_tells_what_it_did_and_ends_with_3_where_runs_failed(done, place, capsys):
    found = table(done)
    assert found["tilt"].tolist() == [20, 20, 35]
    assert found["east"].tolist() == [13, 15, 13]
    assert found["status"].tolist() == ["ok", "failed", "ok"]
    assert found["energy_kwh"].isna().tolist() == [False, True, False]
    assert "got 15 modules of plane 'east roof'" in found["message"][1]
    code, answer, _ = said(capsys, place / "plan.yaml", "--out", done)
    assert code == 3
    assert "The folder has 3 of them (1 failed); 0 are to be computed." in answer
    assert re.search(r"\n0 computed, 3 reused, 1 failed, 1 left out; \d+ s\.\n", answer)
    assert "1 run failed: the table says why (status, message). --again failed computes" in answer
    assert answer.endswith(f"\nResults: {done} (runs.parquet, runs.csv, runs.nc)\n")


def test_a_value_that_may_fail_is_said_before(done, place, capsys):
    _, _, remarks = said(capsys, place / "plan.yaml", "--out", done, "--dry-run")
    assert "Caution: plan.yaml line 4, axes.1.values.1: 15 alone makes no sound site" in remarks


def test_failed_runs_are_computed_again_when_asked(done, place, capsys):
    code, answer, _ = said(capsys, place / "plan.yaml", "--out", done, "--again", "failed")
    assert code == 3
    assert "\n1 computed, 2 reused, 1 failed, 1 left out; " in answer


def test_one_run_alone_and_new_values_alone(done, place, tmp_path, capsys):
    out = tmp_path / "batch"
    code, answer, _ = said(capsys, place / "plan.yaml", "--out", out, "--only", "2")
    assert code == 0
    assert "\n1 computed, 0 reused, 0 failed, 1 left out; " in answer
    found = table(out)
    assert found["status"].tolist() == ["not computed", "not computed", "ok"]
    name = found["run"][0]
    code, answer, _ = said(capsys, place / "plan.yaml", "--out", out, "--only", name[:8])
    assert "\n1 computed, " in answer
    assert table(out)["energy_kwh"].tolist()[::2] == table(done)["energy_kwh"].tolist()[::2]


def test_a_run_is_explained(done, place, tmp_path, capsys):
    plan = place / "plan.yaml"
    name = table(done)["run"][0]
    code, answer, _ = said(capsys, plan, "--out", done, "--explain", name[:8])
    assert code == 0
    assert answer.startswith(f"Run 0, {name}: tilt 20, east 13, ")
    assert "  change  planes.west roof.tilt_deg: 20\n" in answer
    assert " ".join(answer.split()).endswith(f"It isn't computed again: {done} has its result.")
    _, answer, _ = said(capsys, plan, "--out", done, "--explain", "1")
    assert "It was computed and failed: " in answer
    assert "--again" in answer
    _, answer, _ = said(capsys, plan, "--explain", "0")
    assert "No folder named (--out DIR): whether it is computed already can't be" in answer
    _, answer, _ = said(capsys, plan, "--out", tmp_path / "none", "--explain", "0")
    assert "It is computed: " in answer
    assert "has no run with these changes." in " ".join(answer.split())


def test_what_keeps_a_result_from_counting_is_named(done, place, tmp_path, capsys):
    for name in ("houses", "sun"):
        (tmp_path / name).mkdir()
    sun = (place / "sun" / "days.csv").read_text("utf-8")
    (tmp_path / "sun" / "days.csv").write_text(sun + "# looked at\n", encoding="utf-8")
    site = (place / "houses" / "barn.yaml").read_text("utf-8")
    (tmp_path / "houses" / "barn.yaml").write_text(site, encoding="utf-8")
    (tmp_path / "plan.yaml").write_text(PLAN, encoding="utf-8")
    _, answer, _ = said(capsys, tmp_path / "plan.yaml", "--out", done, "--explain", "0")
    assert "has the same changes with another state of the bytes of the weather file." in " ".join(
        answer.split()
    )


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        (
            "9999",
            ("the run: got '9999'; expected a run of this plan: its number, or its name or the"),
        ),
        ("3", "the run: got '3', which the plan leaves out; expected a run of this plan"),
    ],
)
def test_a_run_that_is_not_there_is_told(place, capsys, asked, sentence):
    code, _, remarks = said(capsys, place / "plan.yaml", "--explain", asked)
    assert code == 2
    assert sentence in remarks


def test_a_beginning_of_several_names_is_told(place, capsys, monkeypatch):
    monkeypatch.setattr(explained, "_LEAST_DIGITS", 0)
    code, _, remarks = said(capsys, place / "plan.yaml", "--explain", "")
    assert code == 2
    assert "the run: got '', with which several names begin; expected more of its name." in remarks


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        ([], "--out: got no folder; expected a folder for the results. Name one: --out DIR."),
        (["--workers", "0"], "--workers: got 0; expected a number of processes, at least 1."),
        (
            ["--workers", "2", "--scheduler", "tcp://127.0.0.1:8786"],
            "--workers: got a scheduler beside it (--scheduler); expected one of the two.",
        ),
        (["--again", "all"], "--again: got 'all'; expected 'failed': runs that failed."),
        (
            ["--report", "--out", "memory://batch"],
            "--report: got a folder at the address memory://batch; expected a folder on this "
            "computer.",
        ),
    ],
)
def test_options_that_mean_nothing_are_refused(place, capsys, arguments, sentence):
    code, _, remarks = said(capsys, place / "plan.yaml", *arguments)
    assert code == 2
    assert f"yieldkit: {sentence}\n" in remarks


def test_very_many_runs_want_a_yes(place, tmp_path, capsys):
    many = PLAN.replace("values: [20, 35]", "range: {first: 1, last: 60, count: 50001}")
    (place / "many.yaml").write_text(
        many.replace("leave_out: [tilt == 35", "leave_out: [tilt == 1")
    )
    code, _, remarks = said(capsys, place / "many.yaml", "--out", tmp_path / "batch")
    assert code == 2
    assert (
        "yieldkit: the plan: got 100,001 runs; expected at most 100,000 without --yes. Count them "
        "with --dry-run first; with --yes they are run.\n" in remarks
    )
    assert not (tmp_path / "batch").exists()


def test_a_bad_plan_is_a_sentence_and_exit_2(place, capsys):
    (place / "bad.yaml").write_text(PLAN.replace("west roof", "west rof"), encoding="utf-8")
    code, answer, remarks = said(capsys, place / "bad.yaml", "--out", "nowhere")
    assert (code, answer) == (2, "")
    assert remarks.startswith("yieldkit: bad.yaml line 3, axes.0.path 'planes.west rof.tilt_deg': ")


def test_the_example_is_written_once_and_counts(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    code, answer, _ = said(capsys, "--example")
    assert (code, answer) == (
        0,
        "Wrote plan.yaml, a plan for the demonstration site. Edit it, then count its runs:\n"
        "yieldkit sweep plan.yaml --out batch --dry-run\n",
    )
    code, _, remarks = said(capsys, "--example")
    assert code == 2
    assert "plan.yaml: got a file that exists; expected a new name. Name another file." in remarks
    code, answer, _ = said(capsys, "plan.yaml", "--dry-run")
    assert code == 0
    assert answer.startswith("Plan plan.yaml: 144 runs (72 left out by its conditions)\n")
    _, same, remarks = said(capsys, "--dry-run")
    assert same == answer
    assert "No plan given: using the example's, for the demonstration site (invented)." in remarks


def test_what_is_kept_of_every_hour_is_said_before(place, tmp_path, capsys):
    (place / "hourly.yaml").write_text(PLAN + "keep: {hourly: [p_ac, v_dc]}\n", encoding="utf-8")
    _, _, remarks = said(capsys, place / "hourly.yaml", "--out", tmp_path / "b", "--only", "0")
    # 3 runs, 12 days of 24 hours, one number and one of each of three inputs.
    size = 3 * DAYS * 24 * 4 * 8 / 1e6
    assert f"Every step of 2 variables is kept: about {size:,.0f} MB." in remarks


def test_a_batch_that_is_stopped_says_that_it_goes_on(place, tmp_path, capsys, monkeypatch):
    def stopped(runs, folder, progress, **_):
        bars = progress.__self__
        bars._interrupted(2, None)
        assert progress("runs", 1, len(runs))
        return cli_sweep.Summary(1, 0, 0, 1, 0.5)

    monkeypatch.setattr(cli_sweep, "sweep_runs", stopped)
    code, answer, remarks = said(capsys, place / "plan.yaml", "--out", tmp_path / "b")
    assert code == 130
    assert "1 computed, 0 reused" in answer
    assert "Stopped: what was computed is kept. The same command goes on from there." in remarks


def test_where_nobody_looks_a_line_now_and_then_tells_how_far_it_is(capsys, monkeypatch):
    clock = iter([0.0, 10.0, 40.0, 45.0, 5000.0])
    monkeypatch.setattr(cli_sweep.time, "monotonic", lambda: next(clock))
    with cli_sweep._Told() as told:
        for done in (100, 200, 300, 1000):
            told.show("runs", done, 1000)
    assert capsys.readouterr().err == ("200 of 1,000 runs, about 5 min left\n1,000 of 1,000 runs\n")


def test_a_report_is_a_page_beside_the_tables(done, place, capsys, monkeypatch):
    asked = {}

    def page(notebook, parameters, folder, progress):
        asked.update(
            notebook=notebook, folder=folder, **{f"given {k}": v for k, v in parameters.items()}
        )
        return folder / "what_if.html"

    monkeypatch.setattr(cli_sweep.yieldkit, "run_report", page)
    code, answer, _ = said(capsys, place / "plan.yaml", "--out", done, "--report")
    assert code == 3
    assert asked == {"notebook": "what_if.ipynb", "folder": done, "given folder": str(done)}
    assert answer.endswith(f"\nReport: {done / 'what_if.html'}\n")


def test_what_a_folder_holds_is_read_as_the_page_reads_it(done):
    found = yieldkit.what_if(done)
    assert found.counts == {"ok": 2, "failed": 1, "left out": 1}
    assert [effect.name for effect in found.effects] == ["tilt", "east"]
    assert (found.invented, found.plan) == (True, "plan.yaml")
    (best,) = found.best
    assert best.energy_kwh in table(done)["energy_kwh"].tolist()
