"""Sheets filled in as people and their spreadsheets do it."""

import csv
import io

from tests.study.sites import demo
from yieldkit.study.handover.form import COLUMNS, blank_table, clock_of
from yieldkit.study.handover.names import named_strings, planes_in_use, sheet_mark
from yieldkit.study.handover.readings import read_readings

A, B = "MPPT 1, string 1", "MPPT 1, string 2"
C, D = "MPPT 2, string 1", "MPPT 3, string 1"
VOLTS, AMPS, POLARITY = "open-circuit voltage", "short-circuit current", "polarity"
PLUS, MINUS = "insulation, plus to earth", "insulation, minus to earth"
DAY = "2026-06-21"
RIGHT = {
    A: (491.0, 10.8, 777, 57.3),
    B: (456.0, 10.8, 777, 57.3),
    C: (489.8, 11.4, 816, 59.2),
    D: (244.3, 11.7, 839, 60.4),
}
"""What the demonstration's first wiring reads at 12:10 on a clear 21 June."""


def blank(site, wiring):
    """Return the table to fill in of a wiring."""
    strings = named_strings(site, wiring)
    inputs = list(dict.fromkeys(each.input_name for each in strings))
    mark = sheet_mark(site, wiring)
    names = [each.name for each in strings]
    planes = [each.name for each in planes_in_use(site, wiring)]
    return blank_table(names, inputs, planes, clock_of(site), wiring.name, mark)


def filled(readings, site=None, number=0):
    """Return the sheet of a wiring as rows of cells, some of its blanks filled in.

    Parameters
    ----------
    readings : dict
        (string, input or instrument; quantity) to a reading, or to cells by the columns' names.
    """
    own = site or demo()
    table = blank(own, own.wirings[number])
    rows = [dict(zip(COLUMNS, row, strict=True)) for row in table.itertuples(index=False)]
    known = {(row["what"], row["quantity"]): row for row in rows}
    for (what, quantity), cells in readings.items():
        given = dict(cells) if isinstance(cells, dict) else {"reading": cells}
        if "reading" in given and quantity in (VOLTS, AMPS) and "time" not in given:
            given = {"date": DAY, "time": "12:10"} | given
        row = known.get((what, quantity))
        if row is None:
            row = dict(rows[-1], what=what, quantity=quantity, unit="")
            rows.append(row)
        row.update(given)
    return rows


def written(rows, path, separator=",", heads=COLUMNS, encoding="utf-8"):
    """Write rows as a spreadsheet would; return the path."""
    stream = io.StringIO()
    out = csv.writer(stream, delimiter=separator, lineterminator="\r\n")
    out.writerow(heads.values())
    for row in rows:
        out.writerow([row.get(key, "") for key in heads])
    path.write_bytes(stream.getvalue().encode(encoding))
    return path


def read(readings, folder, site=None, number=0, wiring=None, **how):
    """Return what is read of a filled-in sheet."""
    own = site or demo()
    return read_readings(
        written(filled(readings, own, number), folder / "in.csv", **how), own, wiring
    )
