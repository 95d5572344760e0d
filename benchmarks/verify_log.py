"""A clear day's log judged: three trackers, ten minutes a step."""

import numpy as np
import pandas as pd
import xarray as xr

import yieldkit
from benchmarks.timing import best_of
from yieldkit.config.site.site import Site, Wiring
from yieldkit.study.handover.expected import cloudless_conditions, expected_inputs
from yieldkit.study.handover.log_verdict import log_verdict
from yieldkit.study.logs.plant_log import PlantLog

_STEP = pd.Timedelta(minutes=10)


def run() -> dict[str, float]:
    """Return the time of a verdict on a day's log without sensors."""
    site = yieldkit.load_site()
    wiring = site.wirings[0]
    log = _day(site, wiring)
    return {"verify_log_s": best_of(lambda: log_verdict(site, wiring.name, log), 3)}


def _day(site: Site, wiring: Wiring) -> PlantLog:
    """Return what the drawn wiring writes below a cloudless sky."""
    times = pd.date_range("2026-06-21T04:00", "2026-06-21T18:00", freq=_STEP)
    names = [site.input_name(own) for own in wiring.trackers]
    values = {name: np.zeros((len(times), len(names))) for name in ("v_dc", "i_dc", "p_dc")}
    for step, time in enumerate(times):
        around = cloudless_conditions(site, (time + _STEP / 2).tz_localize("UTC"))
        for each in expected_inputs(site, wiring, around):
            values[each.quantity][step, names.index(each.subject)] = each.value
    left_out = np.zeros((len(times), len(names)), dtype=np.int8)
    dims = ("time", "tracker")
    data = xr.Dataset(
        {name: (dims, own) for name, own in {**values, "left_out": left_out}.items()},
        {"time": times, "tracker": names},
        {"interval_s": 600, "utc_offset_s": site.site.utc_offset_s, "wiring": wiring.name},
    )
    return PlantLog("a clear day", data)
