"""Which wiring explains a plant's log, and what it can't tell."""

from __future__ import annotations

from dataclasses import replace

from yieldkit.config.site.site import Site, Wiring
from yieldkit.study.handover.log_model import LogModel
from yieldkit.study.handover.log_points import inputs_of
from yieldkit.study.handover.log_rows import log_rows
from yieldkit.study.handover.log_sky import log_sky
from yieldkit.study.handover.module_tables import module_table
from yieldkit.study.handover.names import named_strings
from yieldkit.study.handover.slips import all_slips, drawn_wiring
from yieldkit.study.handover.string_model import spreads_of
from yieldkit.study.logs.plant_log import PlantLog

_QUANTITY = {"v_dc": "voltage", "i_dc": "current", "p_dc": "power"}


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
    strings = named_strings(site, wiring)
    drawn = drawn_wiring(site, wiring, [own.name for own in strings])
    rows = log_rows(site, drawn, log)
    plain = all_slips(drawn, [])[:1]
    tables = tuple(module_table(site, plane) for plane in site.planes)
    sky, inputs = log_sky(site, rows, plain), inputs_of(site, strings)
    alone = LogModel(site, plain, rows, sky, inputs, tables, spreads_of())
    rows = rows.by_power(alone.jumps())
    labels = [f"the {_QUANTITY[quantity]} of {name}" for name, quantity in rows.columns]
    slips = all_slips(drawn, labels, rows.measured)
    return replace(alone, slips=slips, rows=rows, sky=log_sky(site, rows, slips))
