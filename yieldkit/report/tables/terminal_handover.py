"""A handover sheet as text for a terminal: what is built, and what each string should show."""

from __future__ import annotations

from yieldkit.design.checks.cautions import DESIGN_AID
from yieldkit.report.tables.terminal import WIDTH, filled, stacked
from yieldkit.study.handover.sheet import Handover, SheetString

_LIVE = "Strings are live in daylight, and DC arcs don't go out: the page begins with the cautions."


def handover_text(sheet: Handover, width: int = WIDTH) -> str:
    """Return a sheet in brief.

    Parameters
    ----------
    sheet : Handover
        What `handover` returned.
    width : int
        Columns of the terminal.
    """
    unchecked = [f"NOT CHECKED: {sheet.not_checked}."] if sheet.not_checked else []
    names = ["string", *(f"{each.number}: {each.name}" for each in sheet.strings)]
    heads = ("modules", "Voc, V", "Isc, A", "insulation test")
    rows = [_row(each) for each in sheet.strings]
    refused = [
        f"{each.name}: NO INSULATION TEST. {each.insulation.remark}"
        for each in sheet.strings
        if each.insulation.test_voltage_v is None
    ]
    lines = [
        filled(f"Wiring: '{sheet.wiring}', sheet {sheet.mark}: {sheet.allowed}.", width),
        *(filled(text, width) for text in unchecked),
        "",
        filled(_LIVE, width),
        "",
        *stacked(names, [heads, *rows], [[]] * len(rows), width),
        "",
        *(filled(text, width) for text in refused),
        *(filled(text, width) for text in [sheet.idle_words] if text),
        filled("Voc and Isc at 1000 W/m2 and 25 degC, by the datasheet.", width),
        filled(sheet.clock_words, width),
        filled(DESIGN_AID, width),
    ]
    return "\n".join(lines)


def _row(one: SheetString) -> tuple[str, str, str, str]:
    test = one.insulation
    volts = "none" if test.test_voltage_v is None else f"{test.test_voltage_v:g} V"
    return (
        f"{one.count}",
        f"{one.stc_v_oc:.1f}",
        f"{one.stc_i_sc:.2f}",
        f"{volts}, {test.least_megohm:g} Mohm" if volts != "none" else volts,
    )
