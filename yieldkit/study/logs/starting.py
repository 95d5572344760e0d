"""A description to start from, made from the names of a table's columns."""

from __future__ import annotations

import csv
import json
import os
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from shlex import quote
from typing import NamedTuple

from yieldkit.base.errors import InputError, nearest, refuse
from yieldkit.base.files import write_text
from yieldkit.base.plain_text import plain_line
from yieldkit.base.readable_files import other_than_file
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.checks.limits import named_wiring
from yieldkit.study.logs.packed import text_table
from yieldkit.study.logs.table import in_logs_words
from yieldkit.weather.readers.dates import looks_like_date
from yieldkit.weather.readers.encodings import found_encoding

_SEPARATORS = (";", "\t", ",", "|")
_HEAD_LINES = 60
_TABLES = (".csv", ".tsv", ".tab", ".parquet", ".pq", ".xlsx", ".xls", ".ods")
_PERHAPS = (".txt", ".dat", ".log")
_PLAIN = re.compile(r"^[A-Za-z][\w.-]*$")
_CLOCK = re.compile(r"^\d{1,2}:\d\d(?::\d\d)?$")
_NUMBER = re.compile(r"^[-+]?[\d.,]+$")
_WORDS = ("null", "true", "false", "yes", "no", "on", "off", "y", "n")


class Head(NamedTuple):
    """The head of a table.

    Parameters
    ----------
    columns : tuple of str
        Names of its columns.
    rows : tuple of tuple of str
        Its first row, and its longest, cells without blanks around them.
    """

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def samples(self, at: int) -> list[str]:
        """Return the cells of a column in those rows."""
        return [row[at] for row in self.rows if at < len(row) and row[at]]

    def first(self, fits: Callable[[str], object]) -> str:
        """Return the first column whose cells fit, nothing where there is none."""
        return next(
            (
                name
                for at, name in enumerate(self.columns)
                if self.samples(at) and all(map(fits, self.samples(at)))
            ),
            "",
        )


def start_log(
    table: str | Path, site: Site, wiring: str | None = None, description: str | Path | None = None
) -> Path:
    """Write a description of a log to be filled in, with the names of a table's columns.

    Parameters
    ----------
    table : str or Path
        A table of the log (CSV or parquet).
    site : Site
        The site.
    wiring : str, optional
        Name of the wiring that was built; by default the site's first.
    description : str or Path, optional
        The file to write; by default that of the table with the ending yaml. An existing file is
        not touched.

    Returns
    -------
    Path
        The file. Zone, label and columns are empty in it: nobody but you knows them.

    Raises
    ------
    InputError
        If the table can't be read, or the file is there already.
    """
    chosen = named_wiring(site, wiring)
    path = Path(table)
    head = head_of(path)
    target = Path(description) if description is not None else path.with_suffix(".yaml")
    if target.exists():
        refuse(str(target), "a file that exists", "a new name", remedy="Name another file.")
    beside = os.path.relpath(path.resolve(), target.resolve().parent)
    write_text(target, _text(head, Path(beside).as_posix(), site, chosen), record=False)
    return target


def head_of(path: Path) -> Head:
    """Return the names of a table's columns and its first rows.

    Parameters
    ----------
    path : Path
        The table.

    Raises
    ------
    InputError
        If it isn't there or is no table.
    """
    if not path.is_file():
        kind = other_than_file(path)
        refuse(
            str(path),
            f"a path to {kind}" if kind else "a file that is not there",
            "a table of the log (CSV or parquet)",
            remedy=_close(path),
        )
    content, _ = text_table(path.read_bytes(), path.name)
    try:
        text = content.decode(found_encoding(content, None, path.name))
    except InputError as error:
        raise InputError(map(in_logs_words, error.problems)) from None
    lines = [line for line in text.splitlines() if line.strip()]
    cells = {mark: _cells(lines[:_HEAD_LINES], mark) for mark in _SEPARATORS}
    most = {mark: max(map(len, rows), default=0) for mark, rows in cells.items()}
    separator = max(_SEPARATORS, key=lambda mark: most[mark])
    rows = cells[separator]
    widest = max(map(len, rows), default=0)
    at = next(
        (at for at, row in enumerate(rows) if len(row) >= widest - 1 and _names(row)), len(rows)
    )
    if at == len(rows) or widest < 2:
        refuse(path.name, "no line of names of columns", "a table with one, and rows under it")
    names = tuple(rows[at])
    # By night there is little to see: the longest line is one of the day.
    shown = [*lines[at + 1 : _HEAD_LINES], max(lines[at + 1 :], key=len, default="")]
    own = [row for row in _cells(shown, separator) if any(map(looks_like_date, row))]
    return Head(names, tuple(dict.fromkeys(tuple(row) for row in (*own[:1], *own[-1:]))))


def _cells(lines: list[str], separator: str) -> list[list[str]]:
    return [[cell.strip() for cell in row] for row in csv.reader(lines, delimiter=separator)]


def _names(row: list[str]) -> bool:
    """Tell whether cells are names: words, most of them, and no dates."""
    given = [cell.strip() for cell in row if cell.strip()]
    plain = [each for each in given if _NUMBER.match(each) or looks_like_date(each)]
    return len(given) >= 2 and len(plain) <= 0.2 * len(given)


def _close(path: Path) -> str:
    try:
        names = [each.name for each in path.parent.iterdir() if each.is_file()]
    except OSError:
        return ""
    close = nearest(path.name, names)
    return f"Did you mean '{close}'?" if close else ""


def refuse_table(path: Path) -> None:
    """Refuse a table where a description is needed; whatever else is wrong is told by others.

    Parameters
    ----------
    path : Path
        What was given.

    Raises
    ------
    InputError
        With the table's columns and how to begin.
    """
    ending = path.suffix.lower()
    if ending not in (*_TABLES, *_PERHAPS) or not path.is_file():
        return
    try:
        head = head_of(path)
    except InputError:
        if ending in _PERHAPS:
            return
        raise
    shown = ", ".join(f"'{name}'" for name in head.columns[:40])
    refuse(
        path.name,
        f"a table with the columns {shown}",
        "a description (YAML) that says which column holds what, with zone and label",
        remedy=f"`yieldkit review {quote(path.as_posix())} SITE --describe` writes one to fill in, "
        "with your site file for SITE.",
    )


def _text(head: Head, beside: str, site: Site, wiring: Wiring) -> str:
    return "\n".join(_lines(head, beside, site, wiring)) + "\n"


def _lines(head: Head, beside: str, site: Site, wiring: Wiring) -> Iterator[str]:
    """Give the description's lines."""
    yield "# A plant's log. Fill in what is empty, take out what the tables don't have."
    yield "# The table has these columns, with values of two of its rows:"
    for at, name in enumerate(head.columns):
        values = " | ".join(head.samples(at))
        yield f"#   {plain_line(_word(name))}: {plain_line(values)[:60]}"
    yield f"wiring: {_word(wiring.name)} # the one that was built"
    yield f"files: [{_word(beside)}] # more after a comma, or a pattern such as *.csv"
    yield "zone:  # UTC+01:00 for a clock one hour ahead of UTC, or a name such as Area/City"
    yield "# clock: wall # with a name: wall if it is put forward in spring, standard if it isn't"
    yield "label:  # start, middle or end: which part of its step a time marks"
    time, clock = head.first(looks_like_date), head.first(_CLOCK.match)
    yield "columns:"
    yield f"  time: {_word(time) if time else ' # the column of times'}"
    if clock:
        yield f"  clock: {_word(clock)} # the time of day"
    planes = ", ".join(f"{_word(plane.name)}: " for plane in site.planes)
    yield f"  # poa_global: {{{planes}}} # light on planes, W/m2"
    yield f"  # temp_module: {{{planes}}} # on the back of modules, degC"
    yield "  # temp_air:  # degC"
    yield "  # wind_speed:  # m/s"
    yield "# units: {p_dc: kW, p_ac: kW} # where the table doesn't state them"
    yield "inverters:"
    for one in site.each_inverter():
        own = wiring.on(one.name) if site.several_inverters else wiring
        if not own.trackers:
            continue
        inputs = ", ".join(f"{_word(tracker.mppt)}: " for tracker in own.trackers)
        yield f"  - name: {_word(one.name)}"
        yield "    columns: # of every input one of the three, better all"
        yield f"      v_dc: {{{inputs}}} # V"
        yield f"      i_dc: {{{inputs}}} # A"
        yield f"      p_dc: {{{inputs}}} # W, or e_dc: counters that add up"
        yield "      # p_ac:  # W at the terminals, or e_ac"
        yield "      # v_ac:  # V, phase to neutral; [L1, L2, L3] for three phases"


def _word(text: str) -> str:
    """Return text as YAML takes it for one word inside a map in one line."""
    plain = _PLAIN.match(text) and text.casefold() not in _WORDS
    return text if plain else json.dumps(text, ensure_ascii=False)
