"""What readings say of a wiring, as text for a terminal and as plain values for JSON."""

from __future__ import annotations

import math
from typing import Any

from yieldkit.base.plain_text import plain_line
from yieldkit.design.checks.cautions import DESIGN_AID
from yieldkit.report.tables.terminal import WIDTH, filled, stacked
from yieldkit.report.tables.terminal_verdict import (
    explanation_lines,
    explanations_json,
    first_lines,
    fits_json,
)
from yieldkit.study.handover.beside_expected import NOT_JUDGED, Judged
from yieldkit.study.handover.told_slips import percent
from yieldkit.study.handover.verdict import Verdict
from yieldkit.study.handover.without_meter import AZIMUTH, CLOCK, SECOND_SENSOR, TILT

_UNITS = {
    "v_oc": ("Voc", "V"),
    "i_sc": ("Isc", "A"),
    "v_dc": ("operating", "V"),
    "i_dc": ("operating", "A"),
    "p_dc": ("operating", "W"),
    TILT: ("tilt", "deg"),
    AZIMUTH: ("azimuth", "deg"),
    SECOND_SENSOR: ("second sensor", "W/m2"),
    CLOCK: ("ahead", "min"),
}
_QUANTITY = ("open-circuit voltage", "short-circuit current")
_HOW = {
    TILT: "tilt of {plane} (an inclinometer or a telephone laid on a module)",
    AZIMUTH: "azimuth of {plane} from true north (a compass away from metal, or a map)",
    SECOND_SENSOR: "light in the plane of {plane} by a second sensor, held beside the first at the "
    "same minute",
    CLOCK: "how far the sheet's clock is ahead of one that is right, such as a telephone's",
}
_WHERE = (
    "The table has lines for these behind those of the inputs. None touches a live part; go onto a "
    "roof only if secured against falling."
)


def verdict_text(found: Verdict, width: int = WIDTH) -> str:
    """Return a verdict as text, what is dangerous first.

    Parameters
    ----------
    found : Verdict
        What `verify` returned.
    width : int
        Columns of the terminal.
    """
    lines = [
        *first_lines(found, width),
        *reading_lines(found, width),
        *_modules(found, width),
        *(filled(text, width) for text in found.uneven),
        *explanation_lines(found, width),
        *(filled(text, width) for text in _next(found)),
        *_checks(found, width),
        *(filled(text, width) for text in found.remarks),
        filled(DESIGN_AID, width),
    ]
    return "\n".join(lines)


def verdict_json(found: Verdict) -> dict[str, Any]:
    """Return a verdict as plain values.

    Parameters
    ----------
    found : Verdict
        The verdict.
    """
    further = found.further
    return {
        "wiring": found.wiring,
        **fits_json(found),
        "as_drawn": _number(found.as_drawn),
        "loud": list(found.loud),
        "uneven": list(found.uneven),
        "remarks": list(found.remarks),
        "repeat": found.repeat,
        "readings": [_row(own) for own in found.readings],
        "modules": [own._asdict() for own in found.modules],
        "explanations": explanations_json(found),
        "further": None
        if further is None
        else {
            "string": found.strings[further.string],
            "quantity": ("v_oc", "i_sc")[further.quantity],
            "moment": further.moment.isoformat(),
            "settles": further.gain,
            "again": further.again,
        },
        "checks": [
            {"quantity": own.quantity, "plane": plane or None, "settles": own.gain}
            for own, plane in found.checks
        ],
        "note": DESIGN_AID,
    }


def _row(own: Judged) -> dict[str, Any]:
    return {
        "subject": own.reading.subject,
        "quantity": own.reading.quantity,
        "value": own.reading.value,
        "expected": _number(own.expected),
        "low": _number(own.low),
        "high": _number(own.high),
        "state": own.state,
        "why": own.why,
        "line": own.reading.line,
    }


def reading_lines(found: Verdict, width: int) -> list[str]:
    """Return each reading beside what is expected, as lines of a table.

    Parameters
    ----------
    found : Verdict
        The verdict.
    width : int
        Columns of the terminal.
    """
    heads = ("read", "expected", "usual from", "to", "")
    names = ["reading", *(_name(own) for own in found.readings)]
    rows = [
        (
            _figure(own.reading.value),
            _figure(own.expected),
            _figure(own.low),
            _figure(own.high),
            own.state if own.state != NOT_JUDGED else f"{own.state}: {own.why}",
        )
        for own in found.readings
    ]
    return [*stacked(names, [heads, *rows], [[]] * len(rows), width), ""]


def _name(own: Judged) -> str:
    words, unit = _UNITS[own.reading.quantity]
    return f"{plain_line(own.reading.subject)}, {words}, {unit}"


def _modules(found: Verdict, width: int) -> list[str]:
    # A string that was read twice stands there twice, alike.
    said = dict.fromkeys(
        f"{plain_line(own.string)} reads like {own.modules:.1f} +- {own.spread:.2f} modules of "
        f"{own.drawn}."
        for own in found.modules
    )
    return [filled(text, width) for text in said]


def _next(found: Verdict) -> list[str]:
    further = found.further
    if further is None or further.gain < 0.01:
        return []
    again = " once more" if further.again else ""
    return [
        f"Would tell most: the {_QUANTITY[further.quantity]} of "
        f"{plain_line(found.strings[further.string])}{again}, about "
        f"{further.moment:%Y-%m-%d %H:%M} by the sheet's clock; it can be expected to settle "
        f"{percent(further.gain)} of what is open."
    ]


def _checks(found: Verdict, width: int) -> list[str]:
    """Return what would tell more without a meter, as lines."""
    if not found.checks:
        return []
    rows = [
        filled(f"{percent(own.gain)}: {_HOW[own.quantity].format(plane=plain_line(plane))}.", width)
        for own, plane in found.checks
    ]
    head = "Would tell more without a meter, with the share of what is open that each may settle:"
    return ["", filled(head, width), *rows, filled(_WHERE, width), ""]


def _figure(value: float) -> str:
    return "-" if math.isnan(value) else f"{value:.4g}" if abs(value) < 100 else f"{value:.1f}"


def _number(value: float) -> float | None:
    return None if math.isnan(value) else value
