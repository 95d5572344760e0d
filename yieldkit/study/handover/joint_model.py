"""Readings of several kinds as one: what they say of the same modules sharpens each of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.study.handover import reference_errors as errors
from yieldkit.study.handover.judged_model import JudgedModel
from yieldkit.study.handover.slips import Slip
from yieldkit.study.handover.string_model import COMMON

OF_THE_PLANT = (errors.MODULES_V, errors.MODULES_A, errors.CELL_HEAT)
"""Unknowns of the plant itself, which all readings share however they were made."""
OF_INVERTERS = (errors.METER_V, errors.METER_A, *OF_THE_PLANT)
"""What logs of the same inverters share."""


@dataclass(frozen=True)
class JointModel:
    """Readings of several models after one another.

    Parameters
    ----------
    slips : tuple of Slip
        The slips; readings in doubt are counted through all parts.
    parts : tuple of JudgedModel
        The models, each with the slips as they concern it.
    places : tuple of ndarray of int
        Where each part's unknowns stand among all of them.
    """

    slips: tuple[Slip, ...]
    parts: tuple[JudgedModel, ...]
    places: tuple[IntArray, ...]

    @property
    def unknowns(self) -> int:
        """How many unknowns there are."""
        return 1 + max(int(own.max()) for own in self.places)

    @property
    def value(self) -> FloatArray:
        """What was read, part after part (reading,)."""
        return np.concatenate([part.value for part in self.parts])

    def only(self, at: IntArray) -> JointModel:
        """Return the same for some of the slips, by their positions."""
        slips = tuple(self.slips[own] for own in at)
        return replace(self, slips=slips, parts=tuple(part.only(at) for part in self.parts))

    def at(self, unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return what is read, and how it follows the unknowns, as of each part."""
        values, slopes = [], []
        for part, place in zip(self.parts, self.places, strict=True):
            own, by = part.at(unknowns[:, place])
            every = np.zeros((*own.shape, self.unknowns))
            every[..., place] = by
            values.append(own)
            slopes.append(every)
        return np.concatenate(values, axis=1), np.concatenate(slopes, axis=1)

    def noise_under(self) -> FloatArray:
        """Return the standard deviation of each reading by itself (slip, reading)."""
        return np.concatenate([part.noise_under() for part in self.parts], axis=1)


def joined(
    slips: tuple[Slip, ...], parts: Sequence[JudgedModel], shared: Sequence[tuple[str, ...]]
) -> JointModel:
    """Return several models as one.

    Parameters
    ----------
    slips : tuple of Slip
        The slips.
    parts : sequence of JudgedModel
        The models; their unknowns begin with `COMMON`.
    shared : sequence of tuple of str
        Which of `COMMON` each part has in common with the parts before it.
    """
    places: list[IntArray] = []
    count = 0
    known: dict[str, int] = {}
    for part, names in zip(parts, shared, strict=True):
        place = np.empty(part.unknowns, dtype=int)
        for at in range(part.unknowns):
            name = COMMON[at] if at < len(COMMON) else ""
            if name in names and name in known:
                place[at] = known[name]
                continue
            place[at] = count
            known.setdefault(name, count)
            count += 1
        places.append(place)
    return JointModel(slips, tuple(parts), tuple(places))


def concerning(slips: Sequence[Slip], first: int, count: int) -> tuple[Slip, ...]:
    """Return slips as they concern a part, its readings or columns counted from 0.

    Parameters
    ----------
    slips : sequence of Slip
        The slips.
    first : int
        Which of all readings and columns is the part's first.
    count : int
        How many it has.
    """
    found = []
    for slip in slips:
        doubt = slip.doubt
        if doubt is not None and doubt >= 0:
            doubt = doubt - first if first <= doubt < first + count else None
        found.append(slip._replace(doubt=doubt))
    return tuple(found)
