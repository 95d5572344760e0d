"""Runs put in place as one: every file bears one run's id, or the folder says it is unfinished."""

import contextlib
import hashlib
import itertools
import json
import os
import subprocess
import sys

import pytest

from yieldkit.base.errors import InputError
from yieldkit.base.files import RECORD, read_dataset, write_text
from yieldkit.base.staging import listed_files, refuse_unwritable, staged

SIGN = "UNFINISHED-compare.txt"
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="this system can't fork"),
]


@pytest.fixture(scope="module")
def killed(tmp_path_factory):
    """Return the lines of a run killed at many moments: eight of its time, and every call."""
    folder = tmp_path_factory.mktemp("killed")
    done = subprocess.run(
        [sys.executable, "-m", "tests.base.killed_run", str(folder), "8"],
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    return [json.loads(line) for line in done.stdout.splitlines()]


def test_after_40_kills_all_files_bear_one_run_or_the_folder_says_unfinished(killed):
    assert sum(line["died"] == 9 for line in killed if line["moment"] > 0) >= 40
    mixed = [line for line in killed if len(line["runs"]) != 1 and not line["unfinished"]]
    assert mixed == []
    assert [line for line in killed if line["damaged"]] == []


def test_the_old_run_the_new_one_and_the_unfinished_were_all_met(killed):
    met = [(line["runs"], line["unfinished"]) for line in killed if line["moment"] > 0]
    for each in ((["old"], False), (["old"], True), (["new", "old"], True), (["new"], True)):
        assert each in met
    # From the first file of the new run in place to the last of the old one gone: no gap.
    between = [runs == ["new", "old"] for runs, _ in met]
    assert sum(between) == 9
    assert between.index(True) + 9 == len(between) - between[::-1].index(True)


def test_a_run_that_ends_leaves_its_own_files_only(killed):
    last = killed[-1]
    assert (last["died"], last["runs"], last["unfinished"]) == (0, ["new"], False)
    assert last["files"] == [
        "01-east-and-west-apart.nc",
        "02-uneven.nc",
        "compare-manifest.json",
        "compare_wirings.html",
        "comparison.csv",
        "comparison.json",
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


class PowerGone(BaseException):
    """Nothing reaches the disk any more."""


def put_until(dies_at, folder, run, *names):
    """Put texts in place; from the n-th name put in place or taken away nothing happens.

    Return whether it came so far. To the disk that is what a kill is.
    """
    calls = itertools.count(1)
    with (
        staged(folder, "compare", ("page.html",), run) as stage,
        pytest.MonkeyPatch.context() as on,
    ):
        for name in names:
            write_text(stage.folder / name, run)

        def alive(do):
            def called(*given):
                if next(calls) >= dies_at:
                    raise PowerGone
                return do(*given)

            return called

        for name in ("replace", "unlink"):
            on.setattr(os, name, alive(getattr(os, name)))
        with contextlib.suppress(PowerGone):
            stage.put()
            return False
    return True


def left(folder):
    """Return the first word of each text that lies there, and the run of the manifest."""
    found = {path.name: path.read_text() for path in folder.iterdir() if path.name != RECORD}
    manifest = found.get("compare-manifest.json")
    words = {name: text.split()[0] for name, text in found.items()}
    return words | ({"compare-manifest.json": json.loads(manifest)["run"]} if manifest else {})


@pytest.fixture(scope="module")
def stopped_in_a_row(tmp_path_factory):
    """Return what two runs left, stopped one after the other at every second pair of moments.

    Before them a run ends, and after them another one does; no two have the same names.
    """
    folder, found = tmp_path_factory.mktemp("in-a-row"), []
    moments = itertools.product(range(1, 13), repeat=2)
    for first, second in (each for each in moments if sum(each) % 2 == 0):
        put_until(99, folder, "old", "same.txt", "page.html", "of-old.txt")
        (folder / "mine.txt").write_text("mine")
        died = [put_until(first, folder, "one", "same.txt", "of-one.txt")]
        after_one = left(folder)
        died.append(put_until(second, folder, "two", "same.txt", "of-two.txt"))
        after_two = left(folder)
        put_until(99, folder, "last", "same.txt", "of-last.txt")
        found.append((died, after_one, after_two, left(folder)))
    return found


def test_whatever_two_stopped_runs_left_the_next_leaves_its_own_and_the_persons(stopped_in_a_row):
    died = [each[0] for each in stopped_in_a_row]
    assert died.count([True, True]) >= 45
    assert [False, False] in died
    assert [each[-1] for each in stopped_in_a_row] == [
        {
            "same.txt": "last",
            "of-last.txt": "last",
            "compare-manifest.json": "last",
            "mine.txt": "mine",
        }
    ] * len(died)


def test_files_of_several_runs_lie_together_only_under_the_sign(stopped_in_a_row):
    met = set()
    for found in (found for each in stopped_in_a_row for found in each[1:3]):
        runs = {run for name, run in found.items() if name not in ("mine.txt", SIGN)}
        assert len(runs) == 1 or SIGN in found
        met.add((*sorted(runs), SIGN in found))
    assert {("old", False), ("one", "two", True), ("old", "one", "two", True)} <= met


def test_the_sign_says_what_to_do_and_what_it_takes_away(tmp_path, monkeypatch):
    put(tmp_path, "a", one_csv="1")
    with staged(tmp_path, "compare", (), "b") as stage:
        write_text(stage.folder / "two.csv", "2")
        with monkeypatch.context() as patch:
            patch.setattr("yieldkit.base.staging.flush_folder", lambda _: 1 / 0)
            with pytest.raises(ZeroDivisionError, match="division by zero"):
                stage.put()
        assert not (tmp_path / SIGN).exists()
        (tmp_path / SIGN).write_text("Run 0 was stopped")
        with monkeypatch.context() as patch:
            patch.setattr("yieldkit.base.staging.flush_folder", lambda _: 1 / 0)
            with pytest.raises(ZeroDivisionError, match="division by zero"):
                stage.put()
    sentence, _, listed = (tmp_path / SIGN).read_text().partition("\n\n")
    assert sentence == (
        "Run b of yieldkit compare was stopped while its files were put in place: files of "
        "several runs may lie side by side here. Run it again: it takes away those of the "
        "following that are as a run wrote them."
    )
    assert {line.split("  ")[1] for line in listed.splitlines()} == {
        "one.csv",
        "two.csv",
        "compare-manifest.json",
    }


@pytest.mark.parametrize("name", ["../mine.txt", "mine.txt"])
def test_a_sign_takes_away_nothing_that_no_run_wrote(name, tmp_path):
    folder = tmp_path / "out"
    folder.mkdir()
    for place in (folder, tmp_path):
        (place / "mine.txt").write_text("mine")
    digest = hashlib.sha256(b"mine" if name.startswith("..") else b"else").hexdigest()
    (folder / SIGN).write_text(f"Stopped.\n\n{digest}  {name}\n")
    assert put(folder, "a", one_csv="1") == {"one.csv", "mine.txt"}
    assert (tmp_path / "mine.txt").read_text() == "mine"


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
