"""What an inverter shows of its inputs, beside what was expected."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pandas as pd

from yieldkit.config.site.site import Site, Wiring
from yieldkit.study.handover.beside_expected import NOT_JUDGED, OUT, WITHIN, Judged
from yieldkit.study.handover.expected import (
    Conditions,
    ExpectedReading,
    cloudless_conditions,
    expected_inputs,
)
from yieldkit.study.handover.reading import Reading, Readings
from yieldkit.study.handover.string_model import StringModel

OF_INPUTS = ("v_dc", "i_dc", "p_dc")
"""Quantities of an input."""


def inputs_beside(
    site: Site, wiring: Wiring, readings: Readings, model: StringModel | None
) -> tuple[Judged, ...]:
    """Return readings of inputs beside the operating points expected in the light of then.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        The wiring.
    readings : Readings
        The sheet.
    model : StringModel or None
        Readings of strings: where light and temperature of each plane were read.
    """

    @cache
    def expected(moment: pd.Timestamp) -> dict[tuple[str, str], ExpectedReading]:
        found = expected_inputs(site, wiring, _conditions(site, model, moment))
        return {(own.subject, own.quantity): own for own in found}

    rows = []
    for each in readings.readings:
        if each.quantity not in OF_INPUTS:
            continue
        if each.not_judged or each.moment is None:
            rows.append(_left(each, each.not_judged or "no date and time"))
        else:
            own = expected(pd.Timestamp(each.moment))[each.subject, each.quantity]
            state = WITHIN if own.low <= each.value <= own.high else OUT
            rows.append(Judged(each, own.value, own.low, own.high, state))
    return tuple(rows)


def _left(each: Reading, why: str) -> Judged:
    return Judged(each, math.nan, math.nan, math.nan, NOT_JUDGED, why)


def _conditions(site: Site, model: StringModel | None, moment: pd.Timestamp) -> Conditions:
    """Return light and heat, as bright as the sky was at the reading nearest in time."""
    usual = cloudless_conditions(site, moment)
    if model is None or np.isnan(model.readings.poa_global).all():
        return usual
    times = model.readings.moments
    at = int(np.argmin(np.abs((times - moment).total_seconds().to_numpy())))
    then = cloudless_conditions(site, times[at])
    brighter = model.around.on_glass[0, at] / np.maximum(then.poa_global, 1.0)
    warm = model.readings.temp_module
    read = warm[~np.isnan(warm)]
    heat = np.full(len(site.planes), float(np.median(read))) if read.size else usual.temp_module
    return Conditions(moment, usual.poa_global * brighter, heat, True)
