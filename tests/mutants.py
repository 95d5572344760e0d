"""Small mutants of the product, each run against its wing's tests: which ones live?

Run by hand, for it takes its time: `python -m tests.mutants --seed 1 --count 60`. A mutant is one
small slip (a minimum for a maximum, a comparison turned round, a number off by one ...) in a copy
of the tree; compiled functions are left out, the plain ones of physics are not. Survivors are
printed with file, line, before and after. Those that change nothing anybody can observe stand with
the reason in `tests/equal_mutants.csv`. The exit code is 1 where more than 5 % of what was run live
unexplained.
With `--book FILE` every end is written down at once, and a run that was broken off goes on behind
the last one: strike a line out of the book to have that mutant tried again.
"""

from __future__ import annotations

import argparse
import csv
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

from tests.slips import Mutant, mutants_of

ROOT = Path(__file__).parents[1]
EXPLAINED = Path(__file__).with_name("equal_mutants.csv")
WINGS = {
    "base": ("tests/base", "tests/cli", "tests/config", "tests/study"),
    "config": ("tests/config",),
    "physics": ("tests/physics", "tests/study"),
    "weather": ("tests/weather", "tests/study"),
    "design": ("tests/design", "tests/study"),
    "study": ("tests/study",),
    "report": ("tests/report",),
    "cli": ("tests/cli",),
}
"""Where the tests of each wing stand; rooms outside all wings belong to the command line.

A test elsewhere that imports a room is that room's test too.
"""

COMPILING = tuple(
    f"yieldkit/physics/{room}.py"
    for room in ("borrowed_arrays", "compiled", "inside_code", "kept_code")
)
"""The rooms that compile; the last one names what is kept by its sources."""
ACCEPTED_SHARE = 0.05
_LEFT_OUT = shutil.ignore_patterns(".git", ".venv", "__pycache__", ".*_cache", ".hypothesis")
_KEYS = ("file", "function", "before", "after")
_FAILED = re.compile(r"^(?:FAILED|ERROR) (\S.*?)(?: - .*)?$", re.MULTILINE)
KILLED, LIVES, LATE = "killed", "LIVES", "out of time"


class Verdict(NamedTuple):
    """What became of a mutant.

    Parameters
    ----------
    word : str
        Killed, lives, or out of time.
    by : str
        The test that killed it, or nothing.
    seconds : float
        How long it took [s].
    """

    word: str
    by: str
    seconds: float


def wing_of(path: str) -> str:
    """Return the wing of a room, by its path inside the tree."""
    parts = Path(path).parts
    return parts[1] if len(parts) > 2 and parts[1] in WINGS else "cli"


def drawn(root: Path, seed: int, count: int) -> list[Mutant]:
    """Return so many mutants of a tree's product, drawn without choosing, in the order drawn."""
    every = [
        mutant
        for path in sorted((root / "yieldkit").rglob("*.py"))
        for mutant in mutants_of(path.read_text(encoding="utf-8"), str(path.relative_to(root)))
    ]
    return random.Random(seed).sample(every, min(count, len(every)))


class Workshop:
    """A copy of the tree in which one mutant after the other is tried.

    Parameters
    ----------
    root : Path
        The tree.
    folder : Path
        Where the copy goes.
    limit_s : float
        Longest time for one mutant [s].
    """

    def __init__(self, root: Path, folder: Path, limit_s: float) -> None:
        self._root = root.resolve()
        self.tree = folder / "tree"
        shutil.copytree(root, self.tree, ignore=_LEFT_OUT)
        self.limit_s = limit_s
        self._written = time.time()
        self._sound: dict[str, bool] = {}

    def verdict(self, mutant: Mutant, folders: tuple[str, ...]) -> Verdict:
        """Run a wing's tests on a mutant until one fails.

        A test that fails on the sound tree too kills nothing: it is left out and the rest is run.
        """
        path = self.tree / mutant.file
        sound, begun = path.read_text(encoding="utf-8"), time.monotonic()
        kept = self._keep_kernels(mutant)
        files = self._test_files(folders, path.stem)
        try:
            while files:
                self._write(path, mutant.planted(sound))
                out = [name for name, good in self._sound.items() if not good]
                code, said = self._pytest(["-x", *(f"--deselect={each}" for each in out), *files])
                spent = time.monotonic() - begun
                if code is None:
                    return Verdict(LATE, "", spent)
                failed = _FAILED.search(said)
                if code in (0, 5):
                    return Verdict(LIVES, "", spent)
                by = failed.group(1) if failed else said.strip().splitlines()[-1]
                self._write(path, sound)
                if failed is None or self._passes_soundly(by):
                    return Verdict(KILLED, by, spent)
                if "::" not in by:
                    files.remove(by)
            return Verdict(LIVES, "", time.monotonic() - begun)
        finally:
            self._write(path, sound)
            for room, text in kept.items():
                self._write(room, text)

    def _passes_soundly(self, test: str) -> bool:
        if test not in self._sound:
            arguments = [test] if "::" in test else ["--collect-only", test]
            self._sound[test] = self._pytest(arguments)[0] == 0
        return self._sound[test]

    def _test_files(self, folders: tuple[str, ...], room: str) -> list[str]:
        """Return a wing's test files and those elsewhere that import the room, the latter first."""
        imports = re.compile(rf"^(?:from|import) yieldkit\b.*\b{re.escape(room)}\b", re.MULTILINE)
        every = sorted((self.tree / "tests").rglob("test_*.py"))
        first = [path for path in every if imports.search(path.read_text(encoding="utf-8"))]
        wing = [path for folder in folders for path in every if self.tree / folder in path.parents]
        return [str(path.relative_to(self.tree)) for path in dict.fromkeys(first + wing)]

    def _keep_kernels(self, mutant: Mutant) -> dict[Path, str]:
        """Keep what is compiled where a mutant lies in a function that isn't.

        A room's cache is named by its source and those of the rooms it imports; without this each
        such mutant would compile whatever needs its room. The names are made from the sound tree
        instead. A constant outside of functions may be part of what is compiled: it does.
        """
        if wing_of(mutant.file) != "physics" or not mutant.function or mutant.file in COMPILING:
            return {}
        room = self.tree / COMPILING[-1]
        text = room.read_text(encoding="utf-8")
        own = "_SOURCES = Path(__file__).parents[2]\n"
        assert text.count(own) == 1
        self._write(room, text.replace(own, f"_SOURCES = Path({str(self._root)!r})\n"))
        return {room: text}

    def _write(self, path: Path, text: str) -> None:
        """Write a room with a time of its own, so that no compiled form of another is taken."""
        path.write_text(text, encoding="utf-8")
        self._written += 2.0
        os.utime(path, (self._written, self._written))

    def _pytest(self, arguments: list[str]) -> tuple[int | None, str]:
        return self._python(
            ["-m", "pytest", "-q", "--tb=no", "-rfE", "-p", "no:cacheprovider", *arguments]
        )

    def _python(self, arguments: list[str]) -> tuple[int | None, str]:
        """Run Python in the copy; return its exit code, None when time is up, and what it said."""
        process = subprocess.Popen(
            [sys.executable, *arguments],
            cwd=self.tree,
            env={**os.environ, "PYTHONPATH": str(self.tree), "COLUMNS": "1000"},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
        )
        try:
            said, _ = process.communicate(timeout=self.limit_s)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, 9)
            process.communicate()
            return None, ""
        return process.returncode, said


class Book:
    """The ends of mutants, written down one by one so that a broken run can go on.

    Parameters
    ----------
    path : Path or None
        The table; None keeps nothing.
    """

    def __init__(self, path: Path | None) -> None:
        self._path = path
        self._rows: list[dict[str, str]] = []
        if path is not None and path.exists():
            with path.open(encoding="utf-8", newline="") as stream:
                self._rows = list(csv.DictReader(stream))

    def known(self, mutant: Mutant) -> Verdict | None:
        """Return what became of a mutant in an earlier run, or None."""
        own = _named(mutant)
        for row in self._rows:
            if own.items() <= row.items():
                return Verdict(row["word"], row["by"], float(row["seconds"]))
        return None

    def write(self, mutant: Mutant, verdict: Verdict) -> None:
        """Write a mutant's end down."""
        if self._path is None:
            return
        row = {**_named(mutant), **verdict._asdict()}
        new = not self._path.exists()
        with self._path.open("a", encoding="utf-8", newline="") as stream:
            table = csv.DictWriter(stream, list(row))
            if new:
                table.writeheader()
            table.writerow(row)


def _named(mutant: Mutant) -> dict[str, str]:
    """Return what a mutant is known by, wherever in its file it stands today."""
    return {key: getattr(mutant, key) for key in _KEYS}


def explained(mutant: Mutant, listed: list[dict[str, str]]) -> str:
    """Return why a mutant changes nothing that can be observed, or nothing where it may."""
    own = _named(mutant)
    return next((row["why"] for row in listed if own.items() <= row.items()), "")


def listed_explanations() -> list[dict[str, str]]:
    """Return the explained survivors: file, function, before, after, why."""
    with EXPLAINED.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def run(
    mutants: list[Mutant], workshop: Workshop, listed: list[dict[str, str]], book: Book
) -> float:
    """Try mutants, tell each one's end, and return the share that lives unexplained [1]."""
    counts = {KILLED: 0, LIVES: 0, LATE: 0, "equal": 0}
    for number, mutant in enumerate(mutants, start=1):
        verdict = book.known(mutant)
        if verdict is None:
            verdict = workshop.verdict(mutant, WINGS[wing_of(mutant.file)])
            book.write(mutant, verdict)
        why = explained(mutant, listed) if verdict.word == LIVES else ""
        counts["equal" if why else verdict.word] += 1
        end = f"{verdict.word} ({why})" if why else f"{verdict.word} {verdict.by}".rstrip()
        _say(f"{number:3d} {end}, {verdict.seconds:.0f} s\n    {mutant.told()}")
    told = counts[KILLED] + counts[LIVES] + counts["equal"]
    share = counts[LIVES] / max(told - counts["equal"], 1)
    _say(
        f"{len(mutants)} mutants: {counts[KILLED]} killed, {counts[LIVES]} live, "
        f"{counts['equal']} equal to the product, {counts[LATE]} out of time; "
        f"{100.0 * share:.1f} % of those that differ live."
    )
    return share


def main(arguments: list[str] | None = None) -> int:
    """Draw mutants and try them; return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=60, help="how many to draw")
    parser.add_argument("--wings", default=",".join(WINGS), help="run only those of these wings")
    parser.add_argument("--limit", type=float, default=3600.0, help="longest time for one [s]")
    parser.add_argument("--book", type=Path, help="where ends are written down, to go on from")
    parser.add_argument("--list", action="store_true", help="only print what is drawn")
    options = parser.parse_args(arguments)
    wanted = options.wings.split(",")
    mutants = [
        each for each in drawn(ROOT, options.seed, options.count) if wing_of(each.file) in wanted
    ]
    if options.list:
        _say("\n".join(each.told() for each in mutants))
        return 0
    with tempfile.TemporaryDirectory() as folder:
        workshop = Workshop(ROOT, Path(folder), options.limit)
        share = run(mutants, workshop, listed_explanations(), Book(options.book))
        return int(share > ACCEPTED_SHARE)


if __name__ == "__main__":
    sys.exit(main())
