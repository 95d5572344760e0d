"""Which wiring a filled-in table is of; readings of another one are refused."""

from __future__ import annotations

from yieldkit.base.errors import refuse
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.checks.limits import named_wiring
from yieldkit.study.handover.form import SHEET, WIRING, cell_name
from yieldkit.study.handover.names import sheet_mark
from yieldkit.study.handover.table import Table


def wiring_of(table: Table, site: Site, name: str | None) -> Wiring:
    """Return the wiring that a table is of.

    Parameters
    ----------
    table : Table
        The filled-in table.
    site : Site
        The site.
    name : str or None
        The wiring that was built; None for the one that the table names, else the site's first.

    Raises
    ------
    InputError
        If the readings are of another wiring, or its strings were changed since.
    """
    said = [(row, row[WIRING], row[SHEET]) for row in table.rows if row[WIRING] or row[SHEET]]
    known = {cell_name(each.name): each for each in site.wirings}
    by_name = next((known[cell_name(own)] for _, own, _ in said if cell_name(own) in known), None)
    chosen = named_wiring(site, name) if name is not None or by_name is None else by_name
    mark = sheet_mark(site, chosen)
    for row, own, sheet in said:
        if sheet and sheet != mark:
            where = f"{table.name}, line {row.line}, sheet"
            cause, remedy = _why(cell_name(own), cell_name(chosen.name), known)
            refuse(
                where,
                f"sheet {sheet} of the wiring '{own}'",
                f"sheet {mark} of the wiring '{chosen.name}'",
                cause=cause,
                remedy=remedy,
            )
    return chosen


def _why(own: str, chosen: str, known: dict[str, Wiring]) -> tuple[str, str]:
    """Return why a table's sheet is another than the site's, and what to do."""
    if own == chosen:
        cause = "Strings were changed in the site file since the sheet was made"
        return cause, "Make the sheet again, and read what changed"
    if own and own not in known:
        return "The site has no such wiring", "Name the site that the sheet was made of (--site)"
    return "The readings are of another wiring", "Name the wiring that was built (--wiring)"
