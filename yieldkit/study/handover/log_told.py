"""What is told of a judged log: inputs beside the drawing, its clock, what would tell more."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from yieldkit.base.arrays import BoolArray, IntArray
from yieldkit.config.site.site import Site
from yieldkit.study.handover.joint_model import JointModel
from yieldkit.study.handover.judge import Judgement
from yieldkit.study.handover.judged_model import JudgedModel
from yieldkit.study.handover.log_model import LogModel
from yieldkit.study.handover.log_table import QUANTITIES, of_days_round
from yieldkit.study.handover.meter import CURRENT, VOLTAGE, MeterReadings, Surroundings
from yieldkit.study.handover.next_reading import settled_of
from yieldkit.study.handover.string_model import StringModel
from yieldkit.study.logs.plant_log import NIGHT, REASONS, PlantLog

_CLOCK_MIN = 4.0
"""A clock that differs by less needs no word [min]."""
_WORTH = 1e-4
_GAIN = 0.02
_WORDS = ("open-circuit voltage", "short-circuit current")


class LogInput(NamedTuple):
    """An input beside the drawing.

    Parameters
    ----------
    name : str
        The input.
    steps : int
        Steps of it that were judged.
    volts, amperes, watts : float
        What was written over what the drawing lets expect, all unknowns as they are expected [1];
        nan where it wasn't judged.
    """

    name: str
    steps: int
    volts: float
    amperes: float
    watts: float


def beside_drawn(models: Sequence[LogModel]) -> tuple[LogInput, ...]:
    """Return what was written of each input over what the drawing lets expect.

    Parameters
    ----------
    models : sequence of LogModel
        The logs; the drawing is the first of their slips.
    """
    expected = [own.only(np.array([0])).at(np.zeros((1, own.unknowns)))[0][0] for own in models]
    found = []
    for name in dict.fromkeys(own.name for model in models for own in model.inputs):
        ratios, steps = [], 0
        for quantity in QUANTITIES:
            written = drawn = 0.0
            for model, values in zip(models, expected, strict=True):
                if (name, quantity) not in model.rows.columns:
                    continue
                there = model.rows.column == model.rows.columns.index((name, quantity))
                written += float(model.value[there].sum())
                drawn += float(values[there].sum())
            ratios.append(written / drawn if drawn > 0.0 else math.nan)
        for model in models:
            own = [at for at, column in enumerate(model.rows.columns) if column[0] == name]
            steps += np.unique(model.rows.step[np.isin(model.rows.column, own)]).size
        found.append(LogInput(name, int(steps), *ratios))
    return tuple(found)


def rows_told(
    log: PlantLog, model: LogModel, found: Judgement, whole: JudgedModel
) -> tuple[str, ...]:
    """Return what must be told of a log's rows and its clock, in sentences.

    Parameters
    ----------
    log : PlantLog
        The log.
    model : LogModel
        Its model.
    found : Judgement
        What was found.
    whole : JudgedModel
        The model that was judged, of which `model` is a part.
    """
    rows = model.rows
    days = len(rows.clock_spread)
    planes = [own.name for own, lit in zip(model.site.planes, model.sky.lit_by_sensor, strict=True)]
    lit = [
        name for name, there in zip(planes, model.sky.lit_by_sensor.tolist(), strict=True) if there
    ]
    light = f"light measured on {', '.join(lit)}" if lit else "light of a cloudless sky"
    if not lit and rows.measured:
        light = "light by the measured global irradiance"
        if np.isfinite(rows.light).any():
            light = "light reckoned from a sensor that lies otherwise than its plane"
    left = 1.0 - float(log.counted[_by_day(log)].any(axis=1).mean())
    told = [
        f"{log.name}: judged by {rows.steps} steps of {days} {'day' if days == 1 else 'days'}, "
        f"{light}; {100.0 * left:.0f} % of its steps in daylight don't count for any input."
    ]
    if rows.shaded:
        told.append(
            f"{log.name}: {rows.shaded} steps of inputs are left out, for something the site file "
            "tells of stands in their light then."
        )
    told += _clock_seen(log, model)
    told += _clock_told(log, model, found, whole)
    return tuple(told)


def _by_day(log: PlantLog) -> BoolArray:
    """Return the steps of daylight between the first and the last that give anything (step,)."""
    known = [log.data[own].to_numpy() for own in ("i_dc", "p_dc", "v_dc") if own in log.data]
    there = np.flatnonzero(np.nan_to_num(known[0]).max(axis=1) > 0.0)
    found = (log.data["left_out"].to_numpy() != REASONS.index(NIGHT)).any(axis=1)
    if there.size:
        found[: there[0]] = found[there[-1] + 1 :] = False
    return np.asarray(found)


def _clock_told(log: PlantLog, model: LogModel, found: Judgement, whole: JudgedModel) -> list[str]:
    """Return what the light says of the clock beyond what was taken out."""
    place: IntArray = np.arange(model.unknowns)
    if isinstance(whole, JointModel):
        at = next(at for at, part in enumerate(whole.parts) if part is model)
        place = whole.places[at]
    best = int(found.ranked()[0][1][0])
    told = []
    for day, spread in enumerate(model.rows.clock_spread):
        minutes = float(found.unknowns[best, place[model.clock_at + day]] * spread)
        if abs(minutes) < _CLOCK_MIN:
            continue
        told.append(
            f"{log.name}: by the light its clock is {_ahead(minutes)} on {_date(log, model, day)}, "
            "which the verdict reckons with."
        )
    return told


def _clock_seen(log: PlantLog, model: LogModel) -> list[str]:
    """Return by what the clock was set right on the days that are judged."""
    known = {own.day: own for own in log.clock}
    dates = [_date(log, model, day) for day in range(len(model.rows.clock_spread))]
    taken = [
        f"{_ahead(own.minutes)} on {own.day} ({own.low:+.0f} to {own.high:+.0f} min)"
        for own in (known[date] for date in dates if date in known)
        if abs(own.minutes) >= _CLOCK_MIN
    ]
    for date in dates:
        minutes = of_days_round(log.clock, date)
        if date not in known and abs(minutes) >= _CLOCK_MIN:
            taken.append(f"{_ahead(minutes)} on {date}, as on the days around it")
    if not taken:
        return []
    return [f"{log.name}: its clock is taken as {'; '.join(taken)}; by what was seen beforehand."]


def _date(log: PlantLog, model: LogModel, day: int) -> str:
    """Return the date of a day that is judged, by the log's standard time."""
    lit = model.rows.moments[model.rows.day == day]
    offset = pd.Timedelta(seconds=float(log.data.attrs["utc_offset_s"]))
    return str((lit[len(lit) // 2] + offset).strftime("%Y-%m-%d"))


def _ahead(minutes: float) -> str:
    return f"{abs(minutes):.0f} min {'fast' if minutes > 0.0 else 'slow'}"


def meter_that_tells(site: Site, strings: Sequence[str], model: LogModel, found: Judgement) -> str:
    """Return the meter's reading that would tell most of what is open; empty where nothing is.

    Parameters
    ----------
    site : Site
        The site.
    strings : sequence of str
        Names of the strings.
    model : LogModel
        A log, for light and heat at its brightest step.
    found : Judgement
        What is known.
    """
    chosen = np.flatnonzero(found.probability > _WORTH)
    weight = found.probability[chosen] / found.probability[chosen].sum()
    count = len(strings)
    bright = int(np.argmax(model.sky.light[0].min(axis=1)))
    slips = tuple(settled_of(found.slips[at]) for at in chosen)
    shape = len(slips), 2 * count, len(site.planes)
    light, glass, heat = (
        np.broadcast_to(own[0][bright], shape)
        for own in (model.sky.light, model.sky.on_glass, model.sky.heat)
    )
    sensed = np.ones(shape[1:], dtype=bool)
    dirt = np.stack([slip.light for slip in slips])[:, None]
    readings = MeterReadings(
        np.repeat(np.arange(count), 2),
        np.tile([VOLTAGE, CURRENT], count),
        np.ones(2 * count),
        pd.DatetimeIndex([model.rows.moments[bright]] * (2 * count)),
        np.ones(2 * count),
        np.ones(2 * count),
    )
    around = Surroundings(light * dirt, glass, heat, sensed, sensed)
    meter = StringModel(site, slips, readings, around, model.tables, model.spreads)
    values, slopes = meter.at(np.zeros((len(slips), meter.unknowns)))
    spread = np.sqrt(np.square(slopes).sum(axis=2) + np.square(meter.noise(values)))
    # How little two normal distributions have in common: Bhattacharyya (1943), from memory.
    apart = np.square(values[:, None] - values[None]) / 4.0
    both = np.square(spread[:, None]) + np.square(spread[None])
    gains = np.einsum("i,j,ijr->r", weight, weight, 1.0 - np.exp(-apart / both))
    best = int(np.argmax(gains))
    if gains[best] < _GAIN:
        return ""
    return (
        f"By a meter the {_WORDS[best % 2]} of {strings[best // 2]}, with light and module "
        "temperature beside it, would tell most of what is open."
    )
