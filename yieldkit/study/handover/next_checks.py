"""What would tell more without a meter: how planes lie, a second light sensor, the clock."""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

import numpy as np

from yieldkit.study.handover.judge import Judgement
from yieldkit.study.handover.next_reading import WORTH_NAMING, entropy, information
from yieldkit.study.handover.reference_errors import SENSOR_LIGHT
from yieldkit.study.handover.string_model import COMMON, StringModel
from yieldkit.study.handover.without_meter import (
    AZIMUTH,
    CLOCK,
    SECOND_SENSOR,
    TILT,
    Check,
    ChecksModel,
)

WORTH_CHECKING = 0.02
"""Share of what is open from which on a check is proposed [1]."""
_MOST = 8
_FLAT_DEG = 3.0
"""A plane that lies flatter has no azimuth that a compass could find."""
_NOTHING = 1e-9


class NextCheck(NamedTuple):
    """Something to read without a meter.

    Parameters
    ----------
    quantity : str
        TILT, AZIMUTH, SECOND_SENSOR or CLOCK.
    plane : int
        Position of its plane; -1 for the clock.
    gain : float
        Share of what is open that it can be expected to settle [1].
    """

    quantity: str
    plane: int
    gain: float


def next_checks(
    model: StringModel, found: Judgement, made: Collection[Check] = ()
) -> tuple[NextCheck, ...]:
    """Return what would tell more without a meter, that which tells most first.

    Parameters
    ----------
    model : StringModel
        What was read by the meter.
    found : Judgement
        What is known.
    made : collection of Check
        What was read without it: nothing of that is proposed again.
    """
    whole = entropy(found.probability)
    known = {(own.quantity, own.plane) for own in made}
    # One second sensor says of the first whatever it can say.
    seen = {own.quantity for own in made if own.quantity == SECOND_SENSOR}
    thought_of = tuple(
        own
        for own in candidates(model)
        if (own.quantity, own.plane) not in known and own.quantity not in seen
    )
    if whole < _NOTHING or not thought_of:
        return ()
    chosen = np.flatnonzero(found.probability > WORTH_NAMING)
    weight = found.probability[chosen] / found.probability[chosen].sum()
    slips = tuple(found.slips[at] for at in chosen)
    checks = ChecksModel(model.site, slips, thought_of, model.spreads[SENSOR_LIGHT])
    at = COMMON.index(SENSOR_LIGHT)
    mean, slopes = checks.at(found.unknowns[chosen][:, [at]])
    unsure = np.square(slopes[..., 0]) * found.spread[chosen, at, at][:, None]
    spread = np.sqrt(unsure + np.square(checks.noise_under()))
    shares = [
        information(weight, mean[:, place], spread[:, place]) / whole
        for place in range(len(thought_of))
    ]
    order = np.argsort(-np.array(shares), kind="stable")
    return tuple(
        NextCheck(thought_of[place].quantity, thought_of[place].plane, float(shares[place]))
        for place in order[:_MOST]
        if shares[place] >= WORTH_CHECKING
    )


def candidates(model: StringModel) -> tuple[Check, ...]:
    """Return what could be read without a meter, as it would read if all were as drawn.

    Parameters
    ----------
    model : StringModel
        What was read by the meter.
    """
    site, drawn = model.site, model.slips[0]
    used = [at for at in range(len(site.planes)) if drawn.groups[:, at].any()]
    found = []
    for at in used:
        found.append(Check(TILT, at, site.planes[at].tilt_deg))
        if site.planes[at].tilt_deg >= _FLAT_DEG:
            found.append(Check(AZIMUTH, at, site.planes[at].azimuth_deg))
    lit = model.around.on_glass[0, -1]
    if bool((~np.isnan(model.readings.poa_global)).any()):
        brightest = max(used, key=lambda at: float(lit[at]))
        light = float(lit[brightest])
        found.append(Check(SECOND_SENSOR, brightest, light, light))
    return (*found, Check(CLOCK, -1, 0.0))
