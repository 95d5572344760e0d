"""Which wiring explains a plant's logs, with a meter's readings beside them where there are any."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from yieldkit.base.display import Card
from yieldkit.base.errors import refuse
from yieldkit.base.plain_text import plain_line
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.checks.limits import named_wiring
from yieldkit.study.handover.judge import Judgement, held_against_slips
from yieldkit.study.handover.log_hours import hours_told
from yieldkit.study.handover.log_models import joint_models
from yieldkit.study.handover.log_told import LogInput, beside_drawn, meter_that_tells, rows_told
from yieldkit.study.handover.names import named_strings
from yieldkit.study.handover.reading import Readings
from yieldkit.study.handover.slips import AS_DRAWN, REVERSED, SWAPPED
from yieldkit.study.handover.told_slips import percent
from yieldkit.study.handover.verdict import Verdict, meter_model, verdict
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
from yieldkit.study.handover.without_meter import with_planes
from yieldkit.study.logs.looked_at import looked_at
from yieldkit.study.logs.plant_log import PlantLog

NO_METER = (
    "A log can't replace the meter: insulation, polarity before anything is connected, and strings "
    "in parallel to longer ones, which give nothing, show by a meter alone."
)
_LIKE = 2.0
"""Slips whose log lies nearer to the drawing's than this can't be told from it [standard
deviations]."""


@dataclass(frozen=True, repr=False)
class LogVerdict:
    """What logs say of a wiring.

    Parameters
    ----------
    wiring : str
        Name of the wiring.
    logs : tuple of str
        Names of the logs.
    inputs : tuple of LogInput
        Each input beside the drawing.
    explanations : tuple of (float, tuple of str)
        Probability of each group of slips that can't be parted, and its members in words, the most
        probable first; only those worth telling.
    as_drawn : float
        Probability of the group in which all is as drawn [1].
    untold : tuple of str
        What these logs can't tell from the drawing, in words, the likest first.
    further : str
        The meter's reading that would tell most, in a sentence; empty where nothing is open.
    loud : tuple of str
        What must be said before anything else.
    remarks : tuple of str
        What must be told of the logs.
    meter : Verdict or None
        What the meter's readings say by themselves.
    """

    wiring: str
    logs: tuple[str, ...]
    inputs: tuple[LogInput, ...]
    explanations: Explanations = ()
    as_drawn: float = math.nan
    untold: tuple[str, ...] = ()
    further: str = ""
    loud: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    meter: Verdict | None = None

    def __repr__(self) -> str:
        return self._card().text()

    def _repr_html_(self) -> str:
        return self._card().html()

    def _card(self) -> Card:
        hint = "Ask it for .inputs, .explanations, .untold, .further, .remarks, .meter."
        return verdict_card(self.answer, self.loud, self.explanations, hint)

    @property
    def answer(self) -> str:
        """What the logs say, in a few sentences."""
        wiring = f"Wiring '{plain_line(self.wiring)}'"
        read = "the log fits" if len(self.logs) == 1 else "the logs fit"
        if self.meter is not None:
            read = "log and readings fit"
        if self.is_as_drawn:
            said = f"{wiring}: {read} the drawing ({percent(self.as_drawn)})."
        elif not self._called:
            said = f"{wiring}: NOT DECIDED; see what explains it below."
        else:
            said = f"{wiring}: {most_probable(self.explanations)}"
        return said + not_checked(self.unread, "nothing that counts was written of them")

    @property
    def unread(self) -> tuple[str, ...]:
        """Inputs of which nothing counted: they are NOT CHECKED."""
        return tuple(own.name for own in self.inputs if not own.steps)

    @property
    def is_as_drawn(self) -> bool:
        """Whether "as drawn" is the likeliest by far, and no reading of a meter speaks against."""
        bad = self.loud or (self.meter is not None and self.meter.speaks_against)
        return not bad and self.as_drawn >= SURE

    @property
    def _called(self) -> bool:
        """Whether a slip is probable enough to be called by its name."""
        if not self.explanations:
            return False
        weight, members = self.explanations[0]
        return weight >= CALLED and AS_DRAWN not in members


def log_verdict(
    site: Site,
    wiring: str | None,
    log: PlantLog | Sequence[PlantLog],
    readings: Readings | None = None,
) -> LogVerdict:
    """Return which wiring explains logs of clear days.

    Parameters
    ----------
    site : Site
        The site.
    wiring : str or None
        Name of the wiring as drawn; the one that the log names if None.
    log : PlantLog or sequence of PlantLog
        One log, or several of the same inverters; what of it doesn't count, and how far its clock
        is off, is found by `looked_at` unless its clock is told already.
    readings : Readings, optional
        Readings of the same strings by a meter: one joint judgement of both.

    Returns
    -------
    LogVerdict
        Voltages and currents, or powers, of all inputs, held against all slips.

    Raises
    ------
    InputError
        If the site has no such wiring, or a log has less than 20 steps that can be judged.
    """
    logs = (log,) if isinstance(log, PlantLog) else tuple(log)
    chosen = named_wiring(site, _one_wiring(wiring, logs, readings))
    _refuse_other_inputs(site, chosen, logs)
    logs = tuple(own if own.clock else looked_at(site, chosen, own) for own in logs)
    meter = None if readings is None else meter_model(site, readings)
    models = joint_models(site, chosen, logs, meter)
    found = held_against_slips(with_planes(models.whole, site, readings))
    alone = None if readings is None else verdict(site, readings)
    names = tuple(own.name for own in named_strings(site, chosen))
    return LogVerdict(
        chosen.name,
        tuple(own.name for own in logs),
        beside_drawn(models.logs),
        explanations(found),
        found.as_drawn,
        _untold(found),
        meter_that_tells(site, names, models.logs[-1], found),
        (
            *(() if alone is None else alone.loud),
            *_loud(found),
            *(
                said
                for own, model in zip(logs, models.logs, strict=True)
                for said in hours_told(own, model, found)
            ),
        ),
        tuple(
            dict.fromkeys(
                remark
                for own, model in zip(logs, models.logs, strict=True)
                for remark in (*own.remarks, *rows_told(own, model, found, models.whole))
            )
        ),
        alone,
    )


def _one_wiring(
    wiring: str | None, logs: Sequence[PlantLog], readings: Readings | None
) -> str | None:
    """Return the wiring that all is of."""
    said = {own.name: own.data.attrs["wiring"] for own in logs if "wiring" in own.data.attrs}
    if readings is not None:
        said["the readings"] = readings.wiring
    names = set(said.values()) | ({wiring} if wiring is not None else set())
    if len(names) > 1:
        refuse(
            ", ".join(said),
            "; ".join(f"{what}: wiring '{name}'" for what, name in said.items()),
            "readings of one wiring" if wiring is None else f"readings of '{wiring}'",
            remedy="Judge what belongs to another wiring by itself.",
        )
    return next(iter(names), None)


def _refuse_other_inputs(site: Site, wiring: Wiring, logs: Sequence[PlantLog]) -> None:
    """Refuse logs of inputs that a wiring doesn't use."""
    used = [site.input_name(own) for own in wiring.trackers]
    for log in logs:
        other = [str(name) for name in log.data["tracker"].to_numpy() if str(name) not in used]
        if other:
            refuse(
                log.name,
                f"readings of {', '.join(other)}",
                f"readings of the inputs that '{wiring.name}' uses: {', '.join(used)}",
            )


def _untold(found: Judgement) -> tuple[str, ...]:
    """Return slips that logs can't tell from the drawing, the likest first."""
    drawn = next(at for at, own in enumerate(found.slips) if own.kind == AS_DRAWN)
    order = np.argsort(found.distance[drawn], kind="stable")
    return tuple(
        found.slips[at].words
        for at in order
        if at != drawn and found.slips[at].doubt is None and found.distance[drawn, at] < _LIKE
    )


def _loud(found: Judgement) -> tuple[str, ...]:
    """Return what has to be said first where a string may be reversed, or two are swapped."""
    weight, members = found.ranked()[0]
    own = [found.slips[at] for at in members]
    bad = [slip for slip in own if slip.kind == REVERSED]
    if own[0].kind == SWAPPED:
        bad.insert(0, own[0])
    if weight < LOUD_FROM or not bad or any(slip.kind == AS_DRAWN for slip in own):
        return ()
    words = "; OR ".join(slip.words.upper() for slip in bad[:3])
    return (
        f"BY THE LOG MAYBE: {words}. DO NOT PARALLEL, DO NOT PART CONNECTORS UNDER LOAD: switch "
        "off and prove with a clamp meter that no current flows; an arc does not go out by itself.",
    )
