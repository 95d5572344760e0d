"""What was left out of a log, in sentences: hours of each fault, and outages with their time."""

from __future__ import annotations

import numpy as np
import pandas as pd

from yieldkit.base.arrays import BoolArray
from yieldkit.study.logs.columns import runs
from yieldkit.study.logs.drawn_inputs import DrawnInputs
from yieldkit.study.logs.light_on_inputs import LogTime
from yieldkit.study.logs.plant_log import (
    CLIPPED,
    FROZEN,
    IMPOSSIBLE,
    LIMITED,
    REASONS,
    STANDING,
    PlantLog,
)

_TOLD_OUTAGES = 5
_ALL_OF_IT = 0.9
_SENTENCES = {
    IMPOSSIBLE: "{hours} h of {name} hold values beyond what the wiring can give in any light.",
    FROZEN: "{hours} h of {name} repeat one value to the last digit while the light changes.",
    CLIPPED: "{hours} h of {name} were held at the inverter's AC limit.",
    LIMITED: "{hours} h of {name} look held back by another limit: flat while the light "
    "changes, or at voltages beside the best.",
}


def fault_remarks(
    found: PlantLog, before: BoolArray, drawn: DrawnInputs, time: LogTime
) -> tuple[str, ...]:
    """Return what is told of steps that were left out.

    Parameters
    ----------
    found : PlantLog
        With what was left out.
    before : ndarray of bool
        What counted until then (step, tracker).
    drawn : DrawnInputs
        The inputs.
    time : LogTime
        The steps.
    """
    codes = np.where(before, found.data["left_out"].to_numpy(), 0)
    told = []
    for reason, sentence in _SENTENCES.items():
        for at, name in enumerate(drawn.names):
            steps = np.count_nonzero(codes[:, at] == REASONS.index(reason))
            if steps:
                told.append(sentence.format(hours=_hours(steps * time.step_hours), name=name))
    for one in np.unique(drawn.inverter):
        own = drawn.inverter == one
        stands = (codes[:, own] == REASONS.index(STANDING)).any(axis=1)
        if stands.any():
            told.append(_outages(stands, [drawn.names[at] for at in np.flatnonzero(own)], time))
    told.extend(_empty(found, drawn))
    return tuple(told)


def _outages(stands: BoolArray, names: list[str], time: LogTime) -> str:
    """Return when all inputs of an inverter stood still, the longest first."""
    found = runs(stands)
    longest = found[np.argsort(found[:, 0] - found[:, 1], kind="stable")][:_TOLD_OUTAGES]
    local = time.starts + pd.Timedelta(seconds=time.utc_offset_s)
    step = pd.Timedelta(seconds=time.interval_s)
    spans = [
        f"{local[first]:%Y-%m-%d %H:%M} to {local[after - 1] + step:%Y-%m-%d %H:%M}"
        for first, after in sorted(longest.tolist())
    ]
    which = "" if len(found) <= _TOLD_OUTAGES else f", the longest of {len(found)} times"
    inputs = ", ".join(names)
    hours = _hours(np.count_nonzero(stands) * time.step_hours)
    return (
        f"All of {inputs} gave nothing in good light for {hours} h{which} (standard time): "
        f"{'; '.join(spans)}."
    )


def _empty(found: PlantLog, drawn: DrawnInputs) -> list[str]:
    """Return which inputs gave nothing in nine of ten steps that count, and others did."""
    counted = found.counted
    giving = np.zeros(counted.shape, dtype=bool)
    known = np.zeros(counted.shape, dtype=bool)
    for name, usual in (("i_dc", drawn.i_mp), ("p_dc", drawn.i_mp * drawn.v_mp)):
        if name in found.data:
            values = found.data[name].to_numpy()
            known |= np.isfinite(values)
            with np.errstate(invalid="ignore"):
                giving |= values > 0.005 * usual
    told = []
    for at, name in enumerate(drawn.names):
        own = counted[:, at] & known[:, at]
        steps = np.count_nonzero(own)
        if steps and np.count_nonzero(own & ~giving[:, at]) > _ALL_OF_IT * steps:
            told.append(
                f"{name} gives nothing while its inverter runs: an open string, or one that stays "
                "below the start voltage. It counts."
            )
    return told


def _hours(hours: float) -> str:
    return f"{hours:,.1f}"
