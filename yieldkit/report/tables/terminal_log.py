"""What logs say of a wiring, as text for a terminal and as plain values for JSON."""

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
from yieldkit.report.tables.terminal_verify import reading_lines, verdict_json
from yieldkit.study.handover.log_verdict import NO_METER, LogVerdict

_NAMED = 8
"""Slips that can't be told from the drawing, told by name; the others are counted."""


def log_verdict_text(found: LogVerdict, width: int = WIDTH) -> str:
    """Return a verdict on logs as text, what is dangerous first.

    Parameters
    ----------
    found : LogVerdict
        What `log_verdict` returned.
    width : int
        Columns of the terminal.
    """
    meter = found.meter
    told = (*_untold(found), *([found.further] if found.further else []), *found.remarks)
    lines = [
        *first_lines(found, width),
        *([] if meter is None else reading_lines(meter, width)),
        *_inputs(found, width),
        *([] if meter is None else (filled(text, width) for text in meter.uneven)),
        *explanation_lines(found, width),
        *(filled(plain_line(text), width) for text in told),
        *([] if meter is None else (filled(text, width) for text in meter.remarks)),
        filled(NO_METER, width),
        filled(DESIGN_AID, width),
    ]
    return "\n".join(lines)


def log_verdict_json(found: LogVerdict) -> dict[str, Any]:
    """Return a verdict on logs as plain values.

    Parameters
    ----------
    found : LogVerdict
        The verdict.
    """
    return {
        "wiring": found.wiring,
        "logs": list(found.logs),
        **fits_json(found),
        "as_drawn": found.as_drawn,
        "loud": list(found.loud),
        "inputs": [
            {
                "input": own.name,
                "steps": own.steps,
                **{
                    name: None if math.isnan(value) else value
                    for name, value in (
                        ("v_dc_ratio", own.volts),
                        ("i_dc_ratio", own.amperes),
                        ("p_dc_ratio", own.watts),
                    )
                },
            }
            for own in found.inputs
        ],
        "explanations": explanations_json(found),
        "cannot_be_told": list(found.untold),
        "further": found.further,
        "remarks": list(found.remarks),
        "meter": None if found.meter is None else verdict_json(found.meter),
        "no_meter": NO_METER,
        "note": DESIGN_AID,
    }


def _inputs(found: LogVerdict, width: int) -> list[str]:
    heads = ("steps", "voltage", "current", "power")
    names = ["written / drawn", *(plain_line(own.name) for own in found.inputs)]
    rows = [
        (str(own.steps), *(_ratio(value) for value in (own.volts, own.amperes, own.watts)))
        for own in found.inputs
    ]
    return stacked(names, [heads, *rows], [[]] * len(rows), width)


def _ratio(value: float) -> str:
    return "-" if math.isnan(value) else f"{value:.3f}"


def _untold(found: LogVerdict) -> list[str]:
    if not found.untold:
        return []
    shown, more = found.untold[:_NAMED], len(found.untold) - _NAMED
    rest = f"; and {more} more" if more > 0 else ""
    return [f"What this can't tell from the drawing: {'; '.join(shown)}{rest}."]
