"""The table to fill in: its columns, and a line for every reading that the sheet asks for."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

import pandas as pd

from yieldkit.base.files import safe_cell, table_text
from yieldkit.base.time_zones import zone_name
from yieldkit.config.site.site import Site
from yieldkit.study.handover.reading import (
    CLOCK,
    INPUT,
    INSTRUMENTS,
    PLANE,
    QUANTITIES,
    STRING,
)

WHAT, QUANTITY, UNIT, READING = "what", "quantity", "unit", "reading"
DATE, TIME, LIGHT, HEAT = "date", "time", "irradiance", "module temperature"
REMARK, ZONE, WIRING, SHEET = "remark", "zone", "wiring", "sheet"
COLUMNS: dict[str, str] = {
    WHAT: "what",
    QUANTITY: "quantity",
    UNIT: "unit",
    READING: "reading",
    DATE: "date (yyyy-mm-dd)",
    TIME: "time (hh:mm)",
    LIGHT: "irradiance (W/m2)",
    HEAT: "module temperature (degC)",
    REMARK: "remark",
    ZONE: "zone",
    WIRING: "wiring",
    SHEET: "sheet",
}
"""Columns of the table and their heads."""

PERSON, TESTED_BY = "person", "tested by"
MAKE, SERIAL, CALIBRATED = "make and type", "serial number", "calibrated on"
GAIN, SPREAD = "error, the same in all readings", "error, other in each reading"
"""What the table asks of an instrument beside its readings."""
SHEETS_CLOCK = "the sheet's clock"
"""The clock by which times were written, as something that is read itself."""


def plane_subject(name: str) -> str:
    """Return what a plane is called where its lie and its light are read."""
    return f"plane {name}"


def clock_of(site: Site) -> str:
    """Return the clock that the times of a sheet are written by.

    Parameters
    ----------
    site : Site
        The site.

    Returns
    -------
    str
        "Area/City", the clock on the wall there with summer time, where the site file names a
        zone so; else an offset such as "UTC+01:00", the same all year.
    """
    word = site.site.time_zone.strip()
    named = "/" in word and not word.startswith("Etc/")
    return word if named else zone_name(site.site.utc_offset_s)


def clock_words(site: Site) -> str:
    """Return in words by which clock times are written, and what 12:10 on it means.

    Parameters
    ----------
    site : Site
        The site.
    """
    clock = clock_of(site)
    if "/" in clock:
        return f"Write times by the clock on the wall in {clock}, summer time included."
    noon = datetime(2000, 1, 1, 12, 10) - timedelta(seconds=site.site.utc_offset_s)
    return (
        f"Write times by the clock of {clock}, the same all year: 12:10 here is {noon:%H:%M} UTC. "
        "Where a phone shows summer time, take an hour off."
    )


def blank_table(
    strings: Sequence[str],
    inputs: Sequence[str],
    planes: Sequence[str],
    clock: str,
    wiring: str,
    mark: str,
) -> pd.DataFrame:
    """Return the table to fill in.

    Parameters
    ----------
    strings, inputs, planes : sequence of str
        Names of the strings, and of the inputs and planes in use.
    clock : str
        From `clock_of`.
    wiring, mark : str
        The wiring's name and its mark, from `sheet_mark`.

    Returns
    -------
    DataFrame
        Who read, the instruments, every string's readings, every input's and every plane's, and
        the clock's, a line each.
    """
    lines = [(PERSON, TESTED_BY, "")]
    for name, unit in INSTRUMENTS.values():
        lines += [(name, what, "") for what in (MAKE, SERIAL, CALIBRATED)]
        lines += [(name, what, unit) for what in (GAIN, SPREAD)]
    called = [plane_subject(name) for name in planes]
    parts = ((strings, STRING), (inputs, INPUT), (called, PLANE), ([SHEETS_CLOCK], CLOCK))
    for names, of in parts:
        own = [each for each in QUANTITIES if each.of == of]
        lines += [(name, each.words, each.unit) for name in names for each in own]
    blank = dict.fromkeys(COLUMNS, "") | {ZONE: clock, WIRING: wiring, SHEET: mark}
    rows = [blank | {WHAT: what, QUANTITY: words, UNIT: unit} for what, words, unit in lines]
    return pd.DataFrame(rows, columns=list(COLUMNS)).rename(columns=COLUMNS)


def form_text(table: pd.DataFrame) -> str:
    """Return the table as CSV text that spreadsheets take for UTF-8 and never for formulas."""
    return "\ufeff" + table_text(table)


def cell_name(name: str) -> str:
    """Return a name as it comes back from the table: made safe, its blanks collapsed, in small.

    Parameters
    ----------
    name : str
        A name, or a cell of the table that a spreadsheet may have written anew.
    """
    return " ".join(str(safe_cell(name)).lstrip("'").split()).casefold()
