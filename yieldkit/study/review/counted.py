"""What needs no fit to be seen: inputs that give nothing, outages, clocks, power held back."""

from __future__ import annotations

import math

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.study.logs.plant_log import REASONS, STANDING
from yieldkit.study.review.beside import Beside
from yieldkit.study.review.bins import VOLTAGE, Bins
from yieldkit.study.review.causes import Chosen
from yieldkit.study.review.result import (
    CLOCK,
    HELD_BACK,
    NOTHING,
    OUTAGE,
    UNEXPLAINED,
    Plateau,
    Sign,
    Span,
)
from yieldkit.study.review.signs import effect, when_told
from yieldkit.study.review.unknowns import Unknown, shares, spread_of

_LEAST_H = 2.0
"""Hours of good light that must be lost before it is told [h]."""
_MORE = 1.05
"""AC power by the largest that is allowed from which it is more [1]."""
_OFF_MIN = 8.0
"""Minutes from which a clock is told by the light's course alone: planes that lie a little
otherwise than drawn, as right ones do, look like less [min]."""
_NINE_OF_TEN = 3.29
"""Width of a span that holds nine of ten, in standard deviations."""
_LEAST_DAYS, _SURE_FROM = 2, 3.0
"""Days of a month, and standard errors of their median, from which on it is told: a few days of
winter that disagree by themselves prove nothing."""
_FAR = 3.3
"""Standard deviations from which a month is told to be unexplained: one in a thousand."""


def counted_signs(own: Beside, plateaus: tuple[Plateau, ...]) -> tuple[Sign, ...]:
    """Return what is seen by counting.

    Parameters
    ----------
    own : Beside
        The log beside its expectation.
    plateaus : tuple of Plateau
        Where its powers go flat.
    """
    return (*_standing(own), *_clock(own), *_held_back(own, plateaus))


def _standing(own: Beside) -> list[Sign]:
    """Return inputs that give nothing in good light, and inverters all of whose inputs do."""
    codes = own.log.data["left_out"].transpose("time", "tracker").to_numpy()
    lit = np.nan_to_num(own.expected) > 0.1 * own.rated.sum(axis=1)
    standing = (codes == REASONS.index(STANDING)) & lit
    idle = own.dead | standing
    found = []
    names = [one.name for one in own.site.each_inverter()]
    for at, name in enumerate(names):
        mine = own.inverter == at
        if not mine.any():
            continue
        # In the first light of an east roof one idle input is all that is lit: no outage yet.
        several = (idle[:, mine].sum(axis=1) > 1) | standing[:, mine].any(axis=1)
        out = (idle | ~lit)[:, mine].all(axis=1) & several
        if out.any():
            found += _idle(own, name, out, own.expected[:, mine].sum(axis=1), OUTAGE)
            idle = np.where(out[:, None] & mine, False, idle)
    for at, name in enumerate(own.names):
        found += _idle(own, name, idle[:, at], own.expected[:, at], NOTHING)
    return found


def _idle(own: Beside, name: str, idle: BoolArray, expected: FloatArray, kind: str) -> list[Sign]:
    hours = float(idle.sum()) * own.hours
    if hours < _LEAST_H:
        return []
    lost = float(np.nansum(np.where(idle, expected, 0.0))) * own.hours / 1000.0
    months = tuple(own.months[at] for at in np.unique(own.month[idle]))
    clock = np.unique(own.hour[idle])
    at_hours = tuple(int(each) for each in clock) if clock.size <= 3 else ()
    days = len(np.unique((own.local[idle] - own.local[0].normalize()).days))
    words = (
        f"{name}: nothing in {hours:,.0f} h of good light on {days} days"
        f"{when_told(at_hours, months)}, about {lost:,.0f} kWh."
    )
    look = (
        "Read the inverter's list of faults, and look at network, isolators and protection."
        if kind == OUTAGE
        else "Have the input's strings, plugs, fuses and isolator looked at by people licensed "
        "for it."
    )
    size = Span(hours, hours, hours)
    return [Sign(kind, name, words, look, at_hours, months, size, "h", math.inf, lost)]


def _clock(own: Beside) -> list[Sign]:
    """Return by what the log's clock was found to be off; by months where it changes."""
    if not own.log.clock:
        return []
    minutes = np.array([each.minutes for each in own.log.clock])
    off = np.array([each.minutes for each in own.log.clock if each.low > 0.0 or each.high < 0.0])
    months = np.array([each.day[:7] for each in own.log.clock])
    names, days = np.unique(months, return_counts=True)
    names = names[days >= _LEAST_DAYS]
    spreads = np.array([(each.high - each.low) / _NINE_OF_TEN for each in own.log.clock])
    shows = tuple(
        str(name) for name in names if _is_off(minutes[months == name], spreads[months == name])
    )
    if not shows or off.size < _LEAST_DAYS:
        return []
    there = np.isin(months, shows)
    middle, error = _middle(minutes[there], spreads[there])
    span = Span(middle, middle - 1.645 * error, middle + 1.645 * error)
    told = () if len(shows) == names.size else shows
    ahead = "later" if middle > 0.0 else "earlier"
    words = (
        f"The log's clock writes {abs(middle):.0f} min ({abs(span.low):.0f} to "
        f"{abs(span.high):.0f}) {ahead} than it is{when_told((), told)}: mornings and evenings "
        "are off by opposite signs."
    )
    look = (
        "Compare the logger's clock with a right one, its zone and summer time, and whether its "
        "times mark the start or the end of a step."
    )
    return [
        Sign(CLOCK, "all inputs", words, look, (), told, span, "min", abs(middle) / error, math.nan)
    ]


def _middle(minutes: FloatArray, spreads: FloatArray) -> tuple[float, float]:
    """Return the median of some days' minutes, and how unsure it is [min].

    That is its standard error by the middle half, and no less than a single day's own: what makes
    one day unsure, such as haze or a horizon, others have as well.
    """
    quarter = np.quantile(minutes, (0.25, 0.75))
    error = 0.93 * float(quarter[1] - quarter[0]) / math.sqrt(minutes.size)
    return float(np.median(minutes)), max(error, float(np.median(spreads)), 0.5)


def _is_off(minutes: FloatArray, spreads: FloatArray) -> bool:
    """Return whether a month's days agree that the clock is off."""
    middle, error = _middle(minutes, spreads)
    return abs(middle) > max(_OFF_MIN, _SURE_FROM * error)


def _held_back(own: Beside, plateaus: tuple[Plateau, ...]) -> list[Sign]:
    """Return plateaus that no limit of the site explains."""
    found = []
    for each in plateaus:
        if not math.isfinite(each.power_w) or each.words.endswith(f"{each.limit_w:,.0f} W."):
            continue
        words = f"{each.subject}: {each.words[0].lower()}{each.words[1:]}"
        look = "Look at the inverter's settings: a limit of power, of export, or of the network?"
        size = Span(each.power_w, each.power_w, each.power_w)
        found.append(
            Sign(HELD_BACK, each.subject, words, look, (), (), size, "W", math.inf, math.nan)
        )
    return [*found, *_not_held(own)]


def _not_held(own: Beside) -> list[Sign]:
    """Return inverters that give more than the limits that their site states."""
    if "p_ac" not in own.log.data:
        return []
    fed = own.log.data["p_ac"].transpose("time", "inverter").to_numpy().astype(float)
    cap = own.simulated.alternating.p_ac_cap
    held = own.simulated.alternating.p_held_back > 0.0
    found = []
    for at, one in enumerate(own.site.each_inverter()):
        with np.errstate(invalid="ignore"):
            over = held[:, at] & (fed[:, at] > _MORE * cap[:, at])
        hours = float(over.sum()) * own.hours
        if hours < _LEAST_H:
            continue
        more = float((fed[:, at] - cap[:, at])[over].sum()) * own.hours / 1000.0
        months = tuple(own.months[month] for month in np.unique(own.month[over]))
        words = (
            f"{one.name}: for {hours:,.0f} h{when_told((), months)} it gives more than the limits "
            f"that the site states, {more:,.0f} kWh more: expected power is held back there, "
            "measured isn't."
        )
        look = "Look at export limit, derating and network rules in the site file and as set."
        size = Span(hours, hours, hours)
        found.append(Sign(HELD_BACK, one.name, words, look, (), months, size, "h", math.inf, -more))
    return found


def unexplained(
    own: Beside, bins: Bins, found: tuple[Unknown, ...], chosen: Chosen
) -> tuple[Sign, ...]:
    """Return inputs whose months stay off although all causes found are taken into account.

    Parameters
    ----------
    own : Beside
        The log beside its expectation.
    bins : Bins
        Its bins.
    found : tuple of Unknown
        What may be otherwise in a right plant.
    chosen : Chosen
        The causes that were found.
    """
    change = effect(bins, chosen, list(range(len(chosen.causes))))
    once = bins.quantity != VOLTAGE
    total = np.bincount(_key(bins), bins.log_ratio)[_key(bins)]
    signs = []
    for tracker, name in enumerate(own.names):
        far = {}
        for month, told in enumerate(own.months):
            there = (bins.tracker == tracker) & (bins.month == month)
            share = shares(bins, there)
            if not np.isfinite(share).all():
                continue
            left = float((share * once) @ (total - change))
            spread = spread_of(found, bins, share)
            if abs(left) > _FAR * spread:
                far[told] = left, spread
        if not far:
            continue
        worst = max(far, key=lambda told: abs(far[told][0] / far[told][1]))
        left, spread = far[worst]
        percent = 100.0 * math.expm1(left)
        size = Span(percent, *(100.0 * math.expm1(left + 1.645 * s * spread) for s in (-1, 1)))
        words = (
            f"{name}: {abs(percent):.0f} % {'less' if percent < 0 else 'more'} than expected"
            f"{when_told((), tuple(far))}, worst in {worst}; none of the causes that are tried "
            "explains it."
        )
        look = "Look at this input's days in that month, beside another input's."
        energy = bins.energy[once & (bins.tracker == tracker)]
        in_months = np.isin(
            np.array(own.months)[bins.month[once & (bins.tracker == tracker)]], list(far)
        )
        lost = float(energy[in_months].sum()) * -math.expm1(left)
        months = tuple(far)
        signs.append(
            Sign(UNEXPLAINED, name, words, look, (), months, size, "%", abs(left) / spread, lost)
        )
    return tuple(signs)


def _key(bins: Bins) -> IntArray:
    return (bins.tracker * (int(bins.month.max()) + 1) + bins.month) * 24 + bins.hour
