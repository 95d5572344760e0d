"""A filled-in sheet judged, against reckoning every slip and unknown as a variant of the site."""

from datetime import UTC, datetime

import numpy as np
import pandas as pd

import yieldkit
from benchmarks.timing import best_of
from yieldkit.study.handover.expected import Conditions, expected_readings
from yieldkit.study.handover.names import named_strings
from yieldkit.study.handover.reading import Reading, Readings
from yieldkit.study.handover.sheet_readings import meter_readings, string_model
from yieldkit.study.handover.slips import drawn_wiring
from yieldkit.study.handover.verdict import verdict

_SAMPLE = 20
_LIGHT, _HEAT = (777.0, 816.0, 839.0), (57.3, 59.2, 60.4)


def run() -> dict[str, float]:
    """Return the time of a verdict on eight readings, and of as many variants as it looks at."""
    site = yieldkit.load_site()
    wiring = site.wirings[0]
    moment = datetime(2026, 6, 21, 11, 10, tzinfo=UTC)
    conditions = Conditions(pd.Timestamp(moment), np.array(_LIGHT), np.array(_HEAT), True)
    names = tuple(each.name for each in named_strings(site, wiring))
    drawn = drawn_wiring(site, wiring, names)
    planes = np.argmax(drawn.modules, axis=1)
    told = [
        Reading(
            each.subject,
            each.quantity,
            each.value,
            moment,
            _LIGHT[planes[names.index(each.subject)]],
            _HEAT[planes[names.index(each.subject)]],
        )
        for each in expected_readings(site, wiring, conditions)
        if each.subject in names
    ]
    readings = Readings(wiring.name, tuple(told))
    model = string_model(site, drawn, planes, meter_readings(told, names))
    variants = len(model.slips) * (1 + model.unknowns)

    def simulated() -> None:
        for at in range(_SAMPLE):
            changed = site.variant({"planes.0.azimuth_deg": 250.0 + at})
            expected_readings(changed, changed.wirings[0], conditions)

    judged_s = best_of(lambda: verdict(site, readings), 5)
    return {
        "verify_meter_s": judged_s,
        "verify_vs_simulate_speedup": best_of(simulated, 2) / _SAMPLE * variants / judged_s,
    }
