"""Is it wired as drawn? What a filled-in sheet says of it, and which further reading would tell."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from datetime import timedelta, timezone
from zoneinfo import ZoneInfo

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.base.display import Card
from yieldkit.base.plain_text import plain_line
from yieldkit.config.site.site import Site
from yieldkit.design.checks.limits import named_wiring
from yieldkit.study.handover.beside_expected import (
    NOT_JUDGED,
    OUT,
    QUANTITIES,
    Judged,
    ReadsLike,
    beside,
    modules_read,
    uneven,
)
from yieldkit.study.handover.form import clock_of
from yieldkit.study.handover.inputs_beside import inputs_beside
from yieldkit.study.handover.judge import Judgement, held_against_slips
from yieldkit.study.handover.names import named_strings
from yieldkit.study.handover.next_checks import NextCheck, next_checks
from yieldkit.study.handover.next_reading import NextReading, next_reading
from yieldkit.study.handover.reading import Reading, Readings
from yieldkit.study.handover.sheet_readings import meter_readings, stated, string_model
from yieldkit.study.handover.slips import (
    AS_DRAWN,
    MISREAD,
    NONE_OF_THESE,
    REVERSED,
    SWAPPED,
    drawn_wiring,
)
from yieldkit.study.handover.string_model import StringModel
from yieldkit.study.handover.told_slips import percent
from yieldkit.study.handover.verdict_told import (
    CALLED,
    LOUD_FROM,
    SURE,
    Explanations,
    explanations,
    most_probable,
    not_checked,
    verdict_card,
)
from yieldkit.study.handover.without_meter import (
    checks_beside,
    checks_of,
    planes_told,
    with_checks,
)

REPEAT_FROM = 0.005
"""Probability that a reading is misread from which on a slip that rests on it asks for a repeat."""


@dataclass(frozen=True, repr=False)
class Verdict:
    """What readings say of a wiring.

    Parameters
    ----------
    wiring : str
        Name of the wiring.
    readings : tuple of Judged
        Each reading of a string's voltage and current.
    modules : tuple of ReadsLike
        What each string reads like.
    uneven : tuple of str
        Like strings in like light that read unlike, in sentences.
    loud : tuple of str
        What must be said before anything else.
    remarks : tuple of str
        What must be told of the readings.
    explanations : tuple of (float, tuple of str)
        Probability of each group of slips that the readings can't part, and its members in words,
        the most probable first; only those worth telling.
    as_drawn : float
        Probability of the group in which all is as drawn [1]; nan without judged readings.
    further : NextReading or None
        The meter's reading that would tell most of what is open.
    checks : tuple of (NextCheck, str)
        What would tell more without a meter, the most telling first, each with the name of its
        plane; nothing for the clock.
    strings : tuple of str
        Names of the strings.
    repeat : str
        The reading that has to be repeated before anything is concluded from it; empty if none.
    """

    wiring: str
    readings: tuple[Judged, ...]
    modules: tuple[ReadsLike, ...] = ()
    uneven: tuple[str, ...] = ()
    loud: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    explanations: Explanations = ()
    as_drawn: float = math.nan
    further: NextReading | None = None
    checks: tuple[tuple[NextCheck, str], ...] = ()
    strings: tuple[str, ...] = ()
    repeat: str = ""

    def __repr__(self) -> str:
        return self._card().text()

    def _repr_html_(self) -> str:
        return self._card().html()

    def _card(self) -> Card:
        hint = "Ask it for .readings, .modules, .explanations, .further, .remarks."
        return verdict_card(self.answer, self.loud, self.explanations, hint)

    @property
    def answer(self) -> str:
        """What the readings say, in a sentence or two."""
        wiring = f"Wiring '{plain_line(self.wiring)}'"
        unread = not_checked(self.unread, "no voltage of them was judged")
        if not self.explanations:
            return f"{wiring}: NOT CHECKED, for nothing can be concluded of its strings."
        if self.is_as_drawn:
            return (
                f"{wiring}: the readings fit the drawing ({percent(self.as_drawn)}). What these "
                f"readings can't tell from it stays open; see below.{unread}"
            )
        said = f"{wiring}: {most_probable(self.explanations)}"
        if self.explanations[0][0] < CALLED:
            said = f"{wiring}: NOT DECIDED by these readings; see what explains them below."
        said += unread
        if not self.repeat:
            return said
        return f"{said} Before anything is opened or changed read {self.repeat} once more."

    @property
    def unread(self) -> tuple[str, ...]:
        """Strings of which no open-circuit voltage could be judged: they are NOT CHECKED."""
        judged = {
            own.reading.subject
            for own in self.readings
            if own.reading.quantity == "v_oc" and own.state != NOT_JUDGED
        }
        return tuple(name for name in self.strings if name not in judged)

    @property
    def is_as_drawn(self) -> bool:
        """Whether nothing is out, uneven or loud, and "as drawn" is the likeliest by far."""
        return not self.speaks_against and self.as_drawn >= SURE

    @property
    def speaks_against(self) -> bool:
        """Whether anything is out, uneven or loud."""
        out = any(own.state == OUT for own in self.readings)
        return bool(self.loud or self.uneven or out)


def verdict(site: Site, readings: Readings) -> Verdict:
    """Return what a filled-in sheet says of a wiring.

    Parameters
    ----------
    site : Site
        The site.
    readings : Readings
        From `read_readings`.

    Returns
    -------
    Verdict
        Strings are held against all slips; what an inverter shows is held against its band.

    Raises
    ------
    InputError
        If the site has no such wiring.
    """
    wiring = named_wiring(site, readings.wiring)
    names = tuple(each.name for each in named_strings(site, wiring))
    drawn = drawn_wiring(site, wiring, names)
    told, left, checks = _told(readings), _left(readings), checks_beside(site, readings)
    remarks = (*planes_told(checks), *readings.remarks)
    model = meter_model(site, readings)
    if model is None:
        return Verdict(
            wiring.name,
            (*inputs_beside(site, wiring, readings, None), *checks, *left),
            loud=readings.loud,
            remarks=remarks,
            strings=names,
        )
    planes = np.argmax(drawn.modules, axis=1)
    turned = _turned(readings)
    found = held_against_slips(with_checks(model, site, readings))
    return Verdict(
        wiring.name,
        (*beside(told, model), *inputs_beside(site, wiring, readings, model), *checks, *left),
        modules_read(drawn, told, model, found),
        uneven(drawn, told),
        (*readings.loud, *_loud(found, turned)),
        remarks,
        explanations(found),
        found.as_drawn,
        _by_the_clock(site, next_reading(model, found, planes)),
        tuple(
            (own, site.planes[own.plane].name if own.plane >= 0 else "")
            for own in next_checks(model, found, checks_of(site, readings))
        ),
        names,
        to_repeat(found, model.readings.value),
    )


def meter_model(site: Site, readings: Readings) -> StringModel | None:
    """Return a sheet's readings of strings as functions of what is unknown, under every slip.

    Parameters
    ----------
    site : Site
        The site.
    readings : Readings
        From `read_readings`.

    Returns
    -------
    StringModel or None
        None where no reading of a string's voltage or current can be judged.

    Raises
    ------
    InputError
        If the site has no such wiring.
    """
    wiring = named_wiring(site, readings.wiring)
    names = tuple(each.name for each in named_strings(site, wiring))
    told = _told(readings)
    if not told:
        return None
    drawn = drawn_wiring(site, wiring, names)
    meter = meter_readings(told, names, _turned(readings))
    return string_model(site, drawn, np.argmax(drawn.modules, axis=1), meter, stated(readings))


def _told(readings: Readings) -> list[Reading]:
    """Return the readings of strings that are judged."""
    own = [each for each in readings.readings if each.quantity in QUANTITIES]
    return [each for each in own if not each.not_judged and each.moment is not None]


def _left(readings: Readings) -> tuple[Judged, ...]:
    """Return the readings of strings that aren't judged."""
    told, why = _told(readings), "no date and time"
    return tuple(
        Judged(each, math.nan, math.nan, math.nan, NOT_JUDGED, each.not_judged or why)
        for each in readings.readings
        if each.quantity in QUANTITIES and each not in told
    )


def _turned(readings: Readings) -> set[str]:
    """Return the strings of which a reading says that plus and minus are reversed."""
    return {each.subject for each in readings.readings if _is_reversed(each)}


def _is_reversed(each: Reading) -> bool:
    """Return whether a reading says that plus and minus are reversed."""
    return each.quantity in ("polarity", "v_oc") and each.value < 0.0


def _by_the_clock(site: Site, further: NextReading | None) -> NextReading | None:
    """Return a reading to come with its moment by the clock that the sheet is written by."""
    if further is None:
        return None
    clock = clock_of(site)
    zone = ZoneInfo(clock) if "/" in clock else timezone(timedelta(seconds=site.site.utc_offset_s))
    return further._replace(moment=further.moment.tz_convert(zone))


def _loud(found: Judgement, told: Collection[str]) -> tuple[str, ...]:
    """Return what has to be said first of a string that looks reversed or swapped.

    Of strings that were told to be reversed it is said already.
    """
    weight, members = found.ranked()[0]
    top = found.slips[members[0]]
    if top.kind == REVERSED and told:
        return ()
    if top.kind not in (REVERSED, SWAPPED) or weight < LOUD_FROM:
        return ()
    return (
        f"{top.words.upper()}, BY THE READINGS. DO NOT CONNECT, DO NOT PARALLEL, DO NOT CLOSE THE "
        "DC ISOLATOR: parallel strings would drive current through the wrong one, and an arc does "
        "not go out by itself.",
    )


def to_repeat(found: Judgement, value: FloatArray) -> str:
    """Return the reading that is repeated before anything is opened; empty if none.

    Parameters
    ----------
    found : Judgement
        What the readings say.
    value : ndarray
        The meter's readings [V or A] (reading,).

    Returns
    -------
    str
        The reading on which a slip rests alone, or the one that is farthest off where none of the
        slips explains all of them.
    """
    _, members = found.ranked()[0]
    top = found.slips[members[0]]
    doubted = {own.doubt: at for at, own in enumerate(found.slips) if own.kind == MISREAD}
    if top.kind == AS_DRAWN or not doubted:
        return ""
    if top.kind == NONE_OF_THESE:
        # What was read without a meter stands behind its readings.
        expected = found.expected[members[0], : len(value)]
        off = np.abs(value - expected) / np.maximum(np.abs(expected), np.abs(value))
        chosen = doubted[int(np.argmax(off))]
    else:
        chosen = max(doubted.values(), key=lambda at: found.probability[at])
        if found.probability[chosen] < REPEAT_FROM:
            return ""
    return found.slips[chosen].words.removesuffix(" is misread")
