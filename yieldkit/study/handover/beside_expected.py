"""Readings beside what was expected: within or out, like how many modules, uneven strings."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from yieldkit.study.handover.expected import BAND
from yieldkit.study.handover.judge import Judgement
from yieldkit.study.handover.reading import Reading
from yieldkit.study.handover.slips import MISREAD, Drawn
from yieldkit.study.handover.string_model import StringModel

QUANTITIES = ("v_oc", "i_sc")
"""Of a string, by meter: the quantities that are judged."""
WITHIN, OUT, NOT_JUDGED = "within", "out", "not judged"
EVEN_PERCENT = 5.0
"""Like strings in like light read alike within this; IEC 62446-1, from memory."""


class Judged(NamedTuple):
    """One reading beside what was expected.

    Parameters
    ----------
    reading : Reading
        The reading.
    expected, low, high : float
        Expected, and the band of what is usual [V] or [A]; nan where nothing is concluded.
    state : str
        WITHIN, OUT or NOT_JUDGED.
    why : str
        Why nothing is concluded; empty where something is.
    """

    reading: Reading
    expected: float
    low: float
    high: float
    state: str
    why: str = ""


class ReadsLike(NamedTuple):
    """How many modules a string's voltage stands for, by all other readings.

    Parameters
    ----------
    string : str
        Its name.
    modules, spread : float
        Modules that it reads like, and the standard deviation of that.
    drawn : int
        Modules that it was drawn with.
    """

    string: str
    modules: float
    spread: float
    drawn: int


def beside(told: list[Reading], model: StringModel) -> tuple[Judged, ...]:
    """Return readings beside what is expected of the drawn wiring.

    Parameters
    ----------
    told : list of Reading
        The readings that are judged.
    model : StringModel
        The same as functions of what is unknown; the drawn wiring is its first slip.
    """
    values, slopes = model.at(np.zeros((len(model.slips), model.unknowns)))
    value = values[0]
    spread = np.hypot(np.sqrt(np.square(slopes[0]).sum(axis=1)), model.noise(values)[0])
    low, high = value - BAND * spread, value + BAND * spread
    return tuple(
        Judged(
            each,
            float(value[at]),
            float(low[at]),
            float(high[at]),
            WITHIN if low[at] <= each.value <= high[at] else OUT,
        )
        for at, each in enumerate(told)
    )


def modules_read(
    drawn: Drawn, told: list[Reading], model: StringModel, found: Judgement
) -> tuple[ReadsLike, ...]:
    """Return what strings read like, each by all readings but its own voltage.

    Parameters
    ----------
    drawn : Drawn
        The wiring.
    told : list of Reading
        The readings.
    model : StringModel
        The same as functions of what is unknown.
    found : Judgement
        Knows the unknowns that fit best where a reading is left out.
    """
    doubts = {own.doubt: at for at, own in enumerate(found.slips) if own.kind == MISREAD}
    _, slopes = model.at(found.unknowns)
    rows = []
    for at, each in enumerate(told):
        if each.quantity != "v_oc":
            continue
        slip = doubts[at]
        expected = float(found.expected[slip, at])
        slope = slopes[slip, at]
        # What was read without a meter stands behind its readings.
        noise = float(model.noise(found.expected[slip, : len(told)])[at])
        off = float(np.sqrt(slope @ found.spread[slip] @ slope + noise**2))
        string = drawn.strings.index(each.subject)
        count = float(drawn.modules[string].sum())
        rows.append(
            ReadsLike(
                each.subject, count * each.value / expected, count * off / expected, int(count)
            )
        )
    return tuple(rows)


def uneven(drawn: Drawn, told: list[Reading]) -> tuple[str, ...]:
    """Return which like strings in like light read unlike, in sentences.

    Parameters
    ----------
    drawn : Drawn
        The wiring.
    told : list of Reading
        The readings.
    """
    said = []
    for quantity, words in zip(QUANTITIES, ("voltages", "currents"), strict=True):
        own = [each for each in told if each.quantity == quantity]
        for place, one in enumerate(own):
            for other in own[place + 1 :]:
                if one.subject == other.subject or not _alike(drawn, one, other):
                    continue
                apart = _apart_percent(one, other, quantity)
                if apart > EVEN_PERCENT:
                    said.append(
                        f"{one.subject} and {other.subject} are drawn alike, yet their {words} "
                        f"differ by {apart:.1f} % (at most {EVEN_PERCENT:g} % in steady light: "
                        "IEC 62446-1, from memory)."
                    )
    return tuple(dict.fromkeys(said))


def _alike(drawn: Drawn, one: Reading, other: Reading) -> bool:
    first, second = drawn.strings.index(one.subject), drawn.strings.index(other.subject)
    return bool((drawn.modules[first] == drawn.modules[second]).all())


def _apart_percent(one: Reading, other: Reading, quantity: str) -> float:
    """Return by how much two readings differ [%], currents brought to the same light."""
    first, second = one.value, other.value
    if quantity == "i_sc" and not math.isnan(one.poa_global + other.poa_global):
        first, second = first / one.poa_global, second / other.poa_global
    middle = (abs(first) + abs(second)) / 2.0
    return 100.0 * abs(first - second) / middle if middle > 0.0 else 0.0
