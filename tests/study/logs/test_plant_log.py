"""A log keeps for every step the first reason why it doesn't count."""

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.study.logs.plant_log import CLIPPED, FROZEN, MISSING, REASONS, PlantLog

TIME = pd.date_range("2026-05-02", periods=4, freq="30min")
LOG = PlantLog(
    "log.csv",
    xr.Dataset(
        {
            "i_dc": (("time", "tracker"), np.ones((4, 2))),
            "left_out": (("time", "tracker"), np.zeros((4, 2), dtype=np.int8)),
        },
        {"time": TIME, "tracker": ["A", "B"]},
        {"interval_s": 1800.0},
    ),
)


def at(*places):
    there = np.zeros((4, 2), dtype=bool)
    for place in places:
        there[place] = True
    return there


def test_the_first_reason_stays_and_its_hours_are_told():
    first = LOG.leaving_out({MISSING: at((0, 0)), FROZEN: at((0, 0), (1, 0), (2, 0))})
    second = first.leaving_out({CLIPPED: at((2, 0), (3, 1))}, "Clipped in the afternoon.")
    assert LOG.counted.all()
    assert second.remarks == ("Clipped in the afternoon.",)
    assert second.counted.tolist() == [[False, True], [False, True], [False, True], [True, False]]
    assert second.left_out_hours() == {"A": {MISSING: 0.5, FROZEN: 1.0}, "B": {CLIPPED: 0.5}}
    assert REASONS[int(second.data["left_out"].values[2, 0])] == FROZEN
