"""A what-if batch as text for a terminal: its plan, how it went, and one run explained."""

from __future__ import annotations

from collections.abc import Mapping

from yieldkit.base.plain_text import plain_line
from yieldkit.report.tables.terminal import WIDTH, filled
from yieldkit.study.batch.combined import Dimension, Runs
from yieldkit.study.batch.explained import Explanation
from yieldkit.study.batch.run import Run

_SHOWN = 6
_DIGITS = 8


def plan_text(runs: Runs, known: Mapping[str, str] | None = None, width: int = WIDTH) -> str:
    """Return what a plan runs: its axes, how many runs, and how many of them are there already.

    Parameters
    ----------
    runs : Runs
        The plan's runs.
    known : mapping of str to str, optional
        Runs that a folder has, each with its status.
    width : int
        Columns of the terminal.
    """
    lines = [f"Plan {runs.file.name}: {_runs(len(runs))}{_left_out(runs.left_out)}"]
    names = {dimension.name: _values(dimension) for dimension in runs.dimensions}
    room = max(map(len, names))
    for name, values in names.items():
        lines.append(_hanging(f"  {name:{room}}  ", values, width))
    if known is not None:
        # Naming a million runs takes most of a minute, for nothing where the folder has none.
        there = [known[run.name] for run in runs if run.name in known] if known else []
        failed = there.count("failed")
        lines.append(
            f"The folder has {len(there):,} of them ({failed:,} failed); "
            f"{len(runs) - len(there):,} are to be computed."
        )
    return "\n".join(lines)


def first_runs_text(runs: Runs, width: int = WIDTH) -> str:
    """Return the first runs of a plan with number, name and values.

    Parameters
    ----------
    runs : Runs
        The plan's runs.
    width : int
        Columns of the terminal.
    """
    lines = ["The first runs (number, name, values):"]
    for run, _ in zip(runs, range(_SHOWN), strict=False):
        lines.append(_hanging(f"  {run.number:>4}  {run.name[:_DIGITS]}  ", _said(run), width))
    if len(runs) > _SHOWN:
        lines.append(f"  and {len(runs) - _SHOWN:,} more")
    return "\n".join(lines)


def explanation_text(found: Explanation, folder: str, width: int = WIDTH) -> str:
    """Return why a run is or is not computed.

    Parameters
    ----------
    found : Explanation
        The run and what a folder has of it.
    folder : str
        The folder; "" where none was named.
    width : int
        Columns of the terminal.
    """
    run = found.run
    lines = [_hanging(f"Run {run.number}, {run.name}: ", _said(run), width)]
    lines.append(f"  site    {plain_line(str(run.site_file))}")
    lines.append(f"  weather {plain_line(str(run.weather_file.resolve()))}")
    if not run.changes:
        lines.append("  It changes nothing: it is the site as its file has it.")
    for path, value in run.changes:
        lines.append(_hanging("  change  ", f"{path}: {value}", width))
    lines.extend(f"  {what:7} {said[:_DIGITS]}..." for what, said in _hashes(run))
    lines.append(_hanging("", _verdict(found, folder), width))
    return "\n".join(lines)


def _hashes(run: Run) -> list[tuple[str, str]]:
    return [(what, said) for what, said in run.made_of if what != "versions"]


def _verdict(found: Explanation, folder: str) -> str:
    if not folder:
        return "No folder named (--out DIR): whether it is computed already can't be told."
    if found.status == "failed":
        return (
            f"It was computed and failed: {found.message} It is computed again with "
            "--again failed only."
        )
    if found.status:
        return f"It isn't computed again: {folder} has its result."
    if found.differing:
        both = ", and ".join(found.differing)
        return (
            f"It is computed: {folder} has the same changes with another state of {both}. "
            "A result depends on these, so that it counts as another run."
        )
    return f"It is computed: {folder} has no run with these changes."


def summary_text(counts: Mapping[str, int], seconds: float, folder: str, width: int = WIDTH) -> str:
    """Return how a batch went.

    Parameters
    ----------
    counts : mapping of str to int
        How many runs were computed, reused, failed and left out, by these words.
    seconds : float
        How long it took [s].
    folder : str
        Where the results are.
    width : int
        Columns of the terminal.
    """
    said = ", ".join(f"{number:,} {word}" for word, number in counts.items())
    lines = [filled(f"{said}; {duration(seconds)}.", width)]
    if counts.get("failed"):
        text = (
            f"{_runs(counts['failed'])} failed: the table says why (status, message). "
            "--again failed computes them anew."
        )
        lines.append(filled(text, width))
    lines.append(f"\nResults: {plain_line(folder)} (runs.parquet, runs.csv, runs.nc)")
    return "\n".join(lines)


def how_far_text(word: str, done: int, every: int, left_s: float | None) -> str:
    """Return how far a batch is, on one line.

    Parameters
    ----------
    word : str
        What is counted.
    done, every : int
        How many are done, and how many there are.
    left_s : float or None
        How long the rest takes [s], where it is known.
    """
    left = "" if left_s is None else f", about {duration(left_s)} left"
    return f"{done:,} of {every:,} {word}{left}"


def duration(seconds: float) -> str:
    """Return a time in words, short: "48 s", "12 min", "3.5 h".

    Parameters
    ----------
    seconds : float
        [s].
    """
    if seconds < 120.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 7200.0 else f"{seconds / 3600.0:.1f} h"


def _runs(number: int) -> str:
    return f"{number:,} run{'' if number == 1 else 's'}"


def _left_out(number: int) -> str:
    return f" ({number:,} left out by its conditions)" if number else ""


def _values(dimension: Dimension) -> str:
    """Return how many values there are, and the first and last."""
    texts = [
        f"{'' if column == dimension.name else column + ' '}{_some(values)}"
        for column, values in dimension.coordinates.items()
    ]
    return f"{dimension.size:,}: {'; '.join(texts)}"


def _some(values: tuple[object, ...]) -> str:
    shown = [_value(value) for value in values]
    if len(shown) > _SHOWN:
        shown = [*shown[: _SHOWN - 2], "...", shown[-1]]
    return ", ".join(shown)


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return plain_line(f"{value:g}" if isinstance(value, float) else str(value))


def _said(run: Run) -> str:
    said = [f"{column} {_value(value)}" for column, value in run.axes]
    return ", ".join([*said, f"wiring '{plain_line(run.wiring)}'"])


def _hanging(start: str, text: str, width: int) -> str:
    """Return a text whose later lines stand below its first."""
    indent = " " * min(len(start), width // 2)
    return start + filled(text, width, indent)[len(indent) :]
