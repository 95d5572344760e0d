"""The model that a plant's logs, and a meter's readings beside them, are judged by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from yieldkit.config.site.site import Site, Wiring
from yieldkit.study.handover.joint_model import (
    OF_INVERTERS,
    OF_THE_PLANT,
    concerning,
    joined,
)
from yieldkit.study.handover.judged_model import JudgedModel
from yieldkit.study.handover.log_model import LogModel
from yieldkit.study.handover.log_points import inputs_of
from yieldkit.study.handover.log_rows import log_rows
from yieldkit.study.handover.log_sky import log_sky
from yieldkit.study.handover.meter import surroundings
from yieldkit.study.handover.module_tables import module_table
from yieldkit.study.handover.names import named_strings
from yieldkit.study.handover.slips import MISREAD, Slip, all_slips, drawn_wiring
from yieldkit.study.handover.string_model import StringModel, spreads_of
from yieldkit.study.logs.plant_log import PlantLog

_QUANTITY = {"v_dc": "voltage", "i_dc": "current", "p_dc": "power"}


class Judged(NamedTuple):
    """Models of what was written and read, under the same slips.

    Parameters
    ----------
    whole : JudgedModel
        All of them as one.
    logs : tuple of LogModel
        The logs by themselves, with the slips as they concern each.
    """

    whole: JudgedModel
    logs: tuple[LogModel, ...]


def log_model(site: Site, wiring: Wiring, log: PlantLog) -> LogModel:
    """Return a log's readings as functions of what is unknown, under every slip.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        The wiring as drawn.
    log : PlantLog
        The log.

    Raises
    ------
    InputError
        With too few steps that can be judged.
    """
    return joint_models(site, wiring, (log,)).logs[0]


def joint_models(
    site: Site, wiring: Wiring, logs: Sequence[PlantLog], meter: StringModel | None = None
) -> Judged:
    """Return logs, and readings of strings beside them, as functions of what is unknown.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        The wiring as drawn.
    logs : sequence of PlantLog
        Logs of the same inverters.
    meter : StringModel, optional
        Readings of strings, with the slips that they have by themselves.

    Raises
    ------
    InputError
        With too few steps that can be judged.
    """
    strings = named_strings(site, wiring)
    drawn = drawn_wiring(site, wiring, [own.name for own in strings])
    alone = [_alone(site, wiring, log) for log in logs]
    labels = [] if meter is None else _labels_of(meter)
    counts = [len(labels)]
    for at, model in enumerate(alone):
        named = f" in {logs[at].name}" if len(logs) > 1 else ""
        labels += [
            f"the {_QUANTITY[quantity]} of {name}{named}" for name, quantity in model.rows.columns
        ]
        counts.append(len(labels))
    slips = tuple(
        _of_the_log(own)
        for own in all_slips(drawn, labels, any(model.rows.measured for model in alone))
    )
    found = []
    for at, model in enumerate(alone):
        own = concerning(slips, counts[at], counts[at + 1] - counts[at])
        found.append(replace(model, slips=own, sky=log_sky(site, model.rows, own)))
    if meter is None and len(found) == 1:
        return Judged(found[0], tuple(found))
    parts: list[JudgedModel] = [*found]
    shared: list[tuple[str, ...]] = [OF_INVERTERS] * len(found)
    if meter is not None:
        parts.insert(0, _beside(site, meter, concerning(slips, 0, counts[0])))
        shared.insert(0, OF_THE_PLANT)
    return Judged(joined(slips, parts, shared), tuple(found))


def _alone(site: Site, wiring: Wiring, log: PlantLog) -> LogModel:
    """Return a log as drawn, its rows chosen."""
    strings = named_strings(site, wiring)
    drawn = drawn_wiring(site, wiring, [own.name for own in strings])
    rows = log_rows(site, drawn, log)
    plain = all_slips(drawn, [])[:1]
    tables = tuple(module_table(site, plane) for plane in site.planes)
    sky = log_sky(site, rows, plain)
    model = LogModel(site, plain, rows, sky, inputs_of(site, strings), tables, spreads_of())
    return replace(model, rows=rows.by_power(model.jumps()))


def _labels_of(meter: StringModel) -> list[str]:
    """Return what a meter's readings are called."""
    return [own.words.removesuffix(" is misread") for own in meter.slips if own.kind == MISREAD]


def _of_the_log(slip: Slip) -> Slip:
    """Return a slip with its clock and its sensor told to be the log's."""
    if slip.clock_min == 0.0 and slip.sensor == 1.0:
        return slip
    words = slip.words.replace("the clock is", "the log's clock is")
    return slip._replace(words=words.replace("the irradiance", "the log's irradiance"))


def _beside(site: Site, meter: StringModel, slips: Sequence[Slip]) -> StringModel:
    """Return a meter's readings under slips of the plant: its own clock and sensor are right."""
    own = tuple(slip._replace(clock_min=0.0, sensor=1.0) for slip in slips)
    planes = np.argmax(own[0].groups, axis=1)
    return replace(meter, slips=own, around=surroundings(site, planes, meter.readings, own))
