"""Runs put in place as one: every file bears one run's id, or the folder says it is unfinished."""

import json
import os
import subprocess
import sys

import pytest

from yieldkit.words.errors import InputError
from yieldkit.words.staging import listed_files, refuse_unwritable, staged
from yieldkit.words.store import RECORD, read_dataset, write_text

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="this system can't fork")


@pytest.fixture(scope="module")
def killed(tmp_path_factory):
    """Return the lines of a run killed at many moments."""
    folder = tmp_path_factory.mktemp("killed")
    done = subprocess.run(
        [sys.executable, "-m", "tests.store.killed_run", str(folder), "8"],
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    return [json.loads(line) for line in done.stdout.splitlines()]


def test_after_40_kills_all_files_bear_one_run_or_the_folder_says_unfinished(killed):
    died = [line for line in killed if line["died"] == 9]
    assert len(died) >= 40
    mixed = [line for line in died if len(line["runs"]) != 1 and not line["unfinished"]]
    assert mixed == []
    assert [line for line in killed if line["damaged"]] == []


def test_the_old_run_the_new_one_and_the_unfinished_were_all_met(killed):
    met = {(*line["runs"], line["unfinished"]) for line in killed}
    assert {("old", False), ("new", False), ("new", "old", True)} <= met


def test_a_run_that_ends_leaves_its_own_files_only(killed):
    last = killed[-1]
    assert (last["died"], last["runs"], last["unfinished"]) == (0, ["new"], False)
    assert last["files"] == [
        "01-east-and-west-apart.nc",
        "02-uneven.nc",
        "compare-manifest.json",
        "compare_wirings.html",
        "comparison.csv",
        "loss-budgets.csv",
        "verdict.json",
        RECORD,
    ]


def put(folder, run, **files):
    """Put texts in place as a run; return what lies there."""
    with staged(folder, "compare", ("page.html",), run) as stage:
        for name, text in files.items():
            write_text(stage.folder / name.replace("_", "."), text)
        stage.put()
    return {path.name for path in folder.iterdir()} - {RECORD, "compare-manifest.json"}


def test_what_only_the_earlier_run_had_goes_and_what_was_changed_since_stays(tmp_path):
    assert put(tmp_path, "a", one_csv="1", two_csv="2", page_html="p") == {
        "one.csv",
        "two.csv",
        "page.html",
    }
    (tmp_path / "mine.txt").write_text("mine")
    (tmp_path / "two.csv").write_text("2, and a remark of mine")
    assert put(tmp_path, "b", three_csv="3") == {"two.csv", "three.csv", "mine.txt"}
    assert list(listed_files(tmp_path / "compare-manifest.json")) == ["three.csv"]


def test_a_report_of_unknown_origin_goes_too(tmp_path):
    (tmp_path / "page.html").write_text("of an earlier run, listed nowhere")
    assert put(tmp_path, "a", one_csv="1") == {"one.csv"}


@pytest.mark.parametrize(
    "content", ["", "[]", '{"files": 3}', '{"files": {"../mine.txt": "0"}}', '{"run": "x"}']
)
def test_a_manifest_of_something_else_takes_nothing_away(content, tmp_path):
    folder = tmp_path / "out"
    folder.mkdir()
    (tmp_path / "mine.txt").write_text("mine")
    (folder / "compare-manifest.json").write_text(content)
    put(folder, "a", one_csv="1")
    assert (tmp_path / "mine.txt").read_text() == "mine"


def test_two_runs_in_one_folder_do_not_read_one_anothers_files(tmp_path):
    with staged(tmp_path, "propose") as first, staged(tmp_path, "propose") as second:
        for stage, text in ((first, "first"), (second, "second")):
            write_text(stage.folder / "ranking.txt", text)
            stage.put()
        assert (first.folder / "ranking.txt").read_text() == "first"
        write_text(first.folder / "page.html", "of the first")
        first.put()
    assert (tmp_path / "ranking.txt").read_text() == "first"
    assert json.loads((tmp_path / "propose-manifest.json").read_text())["run"] == first.run
    assert not list(tmp_path.glob(".part-*"))


def test_nothing_is_left_of_a_run_that_fails(tmp_path):
    with pytest.raises(ValueError, match="no light"), staged(tmp_path / "a" / "b", "compare"):
        raise ValueError("no light")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("inside", ["", "deeper"])
def test_a_file_in_the_folders_place_is_told(inside, tmp_path):
    (tmp_path / "out").write_text("a file")
    with pytest.raises(InputError, match="got a file, or a path through one; expected a folder"):
        refuse_unwritable(tmp_path / "out" / inside)
    assert (tmp_path / "out").read_text() == "a file"


@pytest.mark.skipif(not os.path.isdir("/proc/self"), reason="no folder that refuses everybody")  # noqa: PTH112
def test_a_folder_that_takes_nothing_is_told():
    with pytest.raises(InputError, match=r"/proc/self/results: got a folder that can't be written"):
        refuse_unwritable("/proc/self/results")


def test_what_is_put_in_place_can_be_read_as_it_was_written(tmp_path):
    with pytest.raises(InputError, match="no such file"):
        read_dataset(tmp_path / "ranking.nc")
