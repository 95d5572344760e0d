"""What commands leave in a folder: results with one run's id, under names that don't collide."""

import io
import json
import os
import subprocess
import sys

import pandas as pd
import pytest

from tests.study.sites import demo, weather
from yieldkit.base.errors import InputError
from yieldkit.base.files import hashed_name, read_dataset, safe_name
from yieldkit.cli import compare as cli_compare
from yieldkit.cli import main as cli
from yieldkit.cli import propose as cli_propose
from yieldkit.cli import simulate as cli_simulate
from yieldkit.report.page.notebook import ReportFailed
from yieldkit.study.comparison import compare as compare_room
from yieldkit.study.comparison.compare import compare
from yieldkit.study.ranking import propose as propose_room
from yieldkit.study.results import comparison as save_room
from yieldkit.study.results import ranking as ranking_room
from yieldkit.study.results.comparison import save_comparison, saved_comparison
from yieldkit.study.simulation import simulate as simulate_room

pytestmark = pytest.mark.slow

DAYS = slice("2018-05-31T23", "2018-06-02T22")


@pytest.fixture(autouse=True)
def days(monkeypatch):
    """Give the commands two days of weather."""
    few = weather().sel(time=DAYS)
    for room in (compare_room, propose_room, simulate_room, save_room, ranking_room):
        monkeypatch.setattr(room, "site_weather", lambda site: few)
    return few


def failing(*given, **more):
    """Stand for a report that fails."""
    raise ReportFailed("The report stopped.")


def runs(folder):
    """Return the runs that the CSV tables, results, verdict and manifests of a folder bear."""
    found = set()
    for path in folder.iterdir():
        if path.suffix == ".csv":
            found |= set(pd.read_csv(path)["run"])
        elif path.suffix == ".nc":
            found.add(read_dataset(path).attrs["run"])
        elif path.suffix == ".json":
            found.add(json.loads(path.read_text())["run"])
    return found


def test_compare_without_a_report_saves_into_the_folder_it_is_given(tmp_path, capsys):
    out = tmp_path / "out"
    assert cli.main(["compare", "--no-report", "--out", str(out)]) in (0, 1)
    told = capsys.readouterr().out
    (run,) = runs(out)
    assert f"Results: {out} (run {run})" in told
    assert sorted(path.name for path in out.glob("*.csv")) == ["comparison.csv", "loss-budgets.csv"]
    assert len(list(out.glob("*.nc"))) == 4


def test_a_report_that_fails_takes_the_older_one_away_and_leaves_the_results(
    tmp_path, monkeypatch, capsys
):
    page = tmp_path / "compare_wirings.html"
    page.write_text("of an earlier run")
    monkeypatch.setattr("yieldkit.report.page.notebook.run_report", failing)
    assert cli.main(["compare", "--out", str(tmp_path)]) == 70
    assert "The report stopped." in capsys.readouterr().err
    assert not page.exists()
    assert len(runs(tmp_path)) == 1


def test_propose_saves_the_ranking_before_all_that_may_fail(tmp_path, monkeypatch, capsys):
    def unprintable(*_said):
        raise ValueError("no words for it")

    page = tmp_path / "propose_wirings.html"
    page.write_text("of an earlier run")
    monkeypatch.setattr(cli_propose, "proposal_text", unprintable)
    wish = ["--shortest", "7", "--longest", "20", "--draws", "0"]
    assert cli.main(["propose", *wish, "--no-report", "--out", str(tmp_path)]) == 70
    assert "no words for it" in capsys.readouterr().err
    assert not page.exists()
    assert len(runs(tmp_path)) == 1
    assert (tmp_path / "ranking.csv").is_file()
    assert (tmp_path / "ranking.nc").is_file()


@pytest.mark.parametrize("command", ["compare", "propose", "simulate"])
def test_a_file_in_the_place_of_the_folder_is_told_before_the_work(
    command, tmp_path, monkeypatch, capsys
):
    for room, name in (
        (cli_compare, "compare_site"),
        (cli_simulate, "simulate_wiring"),
        (cli_propose, "propose_wirings"),
    ):
        monkeypatch.setattr(room, name, lambda *_, **__: pytest.fail("worked"))
    out = tmp_path / "out"
    out.write_text("a file")
    assert cli.main([command, "--out", str(out)]) == 2
    assert f"{out}: got a file, or a path through one; expected a folder" in capsys.readouterr().err
    assert out.read_text() == "a file"


def test_a_place_for_the_site_that_takes_nothing_is_told_before_the_work(
    tmp_path, monkeypatch, capsys
):
    monkeypatch.setattr(cli_propose, "propose_wirings", lambda *_, **__: pytest.fail("worked"))
    (tmp_path / "file").write_text("a file")
    target = tmp_path / "file" / "mine.yaml"
    assert cli.main(["propose", "--no-report", "--save-site", str(target)]) == 2
    assert "got a file, or a path through one" in capsys.readouterr().err


def test_wirings_of_like_names_have_files_of_their_own(tmp_path, monkeypatch):
    long = "a very long name of a wiring that goes on and on and says what hangs where, "
    names = ("east/west", "east-west", "East-West", "CON", long + "first", long + "second")
    content = demo().model_dump()["wirings"][0]
    site = demo().variant({"wirings": tuple({**content, "name": name} for name in names)})
    monkeypatch.setattr(cli_simulate, "chosen_site", lambda options: site)
    for name in names:
        assert cli.main(["simulate", "--wiring", name, "--out", str(tmp_path)]) == 0
    results = [read_dataset(path) for path in tmp_path.glob("*.nc")]
    assert sorted(result.attrs["wiring"] for result in results) == sorted(names)
    stems = {path.name.rsplit(".", 1)[0].lower() for path in tmp_path.glob("*.nc")}
    assert len(stems) == len(names)


@pytest.mark.parametrize("device", ["CON", "con", "prn", "Aux", "NUL", "COM1", "lpt9"])
def test_no_file_is_called_like_a_device(device):
    assert safe_name(device) == f"{device}_"
    assert hashed_name(device).startswith(f"{device}_-")
    assert safe_name(f"{device}x") == f"{device}x"


def test_a_table_of_every_step_shows_words_for_codes_and_units_only_where_there_are_any(tmp_path):
    assert cli.main(["simulate", "--out", str(tmp_path)]) == 0
    (path,) = tmp_path.glob("*-series.csv")
    table = pd.read_csv(path)
    assert len(table) == 48
    assert not [column for column in table if "[1]" in column]
    assert "p_ac [W]" in table
    assert not table["binding_limit MPPT 1"].str.contains(r"\d|_").any()
    assert "off dark" in set(table["binding_limit MPPT 1"])


def test_a_saved_comparison_is_the_one_that_was_saved(tmp_path, days):
    before = compare(demo(), days)
    save_comparison(before, tmp_path)
    after = saved_comparison(tmp_path, demo())
    pd.testing.assert_frame_equal(after.table, before.table)
    assert after.verdict == before.verdict
    assert after.findings == before.findings
    assert after.budgets.equals(before.budgets)
    for (_, one), (_, other) in zip(after.results, before.results, strict=True):
        assert one.drop_attrs().equals(other.drop_attrs())


def test_results_of_another_site_are_refused(tmp_path, days):
    save_comparison(compare(demo(), days), tmp_path)
    other = demo().variant({"site.albedo": 0.3})
    with pytest.raises(InputError, match="results of another site") as told:
        saved_comparison(tmp_path, other)
    assert "Make them again." in str(told.value)


def test_a_terminal_without_our_signs_is_spoken_to_in_plain_ones(tmp_path):
    site = tmp_path / "site.yaml"
    assert cli.main(["new", str(site)]) == 0
    text = site.read_text(encoding="utf-8").replace("one plane per tracker", "Dach \u2265 \u5c4b")
    site.write_text(text, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "yieldkit", "check", str(site)],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": "latin-1"},
        timeout=120,
        check=False,
    )
    assert done.returncode != 70
    assert b"Wiring 'Dach >= \\u5c4b'" in done.stdout


def test_plain_signs_stand_for_those_an_encoding_lacks():
    stream = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    cli.speak_plainly(stream)
    stream.write("a \u2264 b \u2013 5 m\u00b2, 3 \u03a9 \u2026 \u4e2d")
    stream.flush()
    assert stream.buffer.getvalue() == b"a <= b - 5 m2, 3 ohm ... \\u4e2d"
    cli.speak_plainly(None)
