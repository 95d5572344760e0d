"""The table to fill in: its columns, and a line for every reading that the sheet asks for."""

from __future__ import annotations

import pandas as pd

from yieldkit.base.files import safe_cell, table_text
from yieldkit.base.time_zones import zone_name
from yieldkit.config.site.site import Site, Wiring
from yieldkit.study.handover.names import named_strings, sheet_mark
from yieldkit.study.handover.reading import INPUT, INSTRUMENTS, QUANTITIES, STRING

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


def form(site: Site, wiring: Wiring) -> pd.DataFrame:
    """Return the table to fill in.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        The wiring that was built.

    Returns
    -------
    DataFrame
        Who read, the instruments, every string's readings and every used input's, a line each.
    """
    lines = [(PERSON, TESTED_BY, "")]
    for name, unit in INSTRUMENTS.values():
        lines += [(name, what, "") for what in (MAKE, SERIAL, CALIBRATED)]
        lines += [(name, what, unit) for what in (GAIN, SPREAD)]
    of_strings = [each for each in QUANTITIES if each.of == STRING]
    of_inputs = [each for each in QUANTITIES if each.of == INPUT]
    for one in named_strings(site, wiring):
        lines += [(one.name, each.words, each.unit) for each in of_strings]
    for tracker in wiring.trackers:
        own = site.input_name(tracker)
        lines += [(own, each.words, each.unit) for each in of_inputs]
    blank = dict.fromkeys(COLUMNS, "")
    same = {ZONE: clock_of(site), WIRING: wiring.name, SHEET: sheet_mark(site, wiring)}
    rows = [blank | same | {WHAT: what, QUANTITY: words, UNIT: unit} for what, words, unit in lines]
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
