"""A log read from tables and reviewed: the same figures, and the slip of a wrong label is told."""

from functools import cache

import numpy as np
import pandas as pd
import pytest

import yieldkit
from tests.study.logs.tables import columns_of, described, written
from tests.study.review.plants import plants
from tests.study.review.year_logs import log_of
from yieldkit.base.measured_planes import MODULE, POA, measured_name
from yieldkit.study.review.beside import ON_PLANES, ON_SOME_PLANES, ON_THE_LEVEL, _weather
from yieldkit.study.review.result import CLOCK


@cache
def a_month():
    site, wiring = plants()["demo"]
    return log_of(site, wiring, seed=4, days=(150, 164), fresh=True)


def table():
    """Return the month as a logger writes it, one row a step."""
    log, (site, _) = a_month(), plants()["demo"]
    columns = {}
    for number, name in enumerate(log.data["tracker"].to_numpy(), 1):
        own = log.data.sel(tracker=name)
        for letter, quantity in (("U", "v_dc"), ("I", "i_dc"), ("P", "p_dc")):
            columns[f"{letter}{number}"] = own[quantity].to_numpy()
    columns |= {"Pac": log.data["p_ac"].to_numpy()[:, 0], "Uac": log.data["v_ac"].to_numpy()[:, 0]}
    for number, plane in enumerate(site.planes, 1):
        columns[f"G{number}"] = log.weather[measured_name(POA, plane.name)].to_numpy()
        columns[f"T{number}"] = log.weather[measured_name(MODULE, plane.name)].to_numpy()
    columns |= {"Ta": log.weather["temp_air"].to_numpy(), "W": log.weather["wind_speed"].to_numpy()}
    columns["G"] = log.weather["ghi"].to_numpy()
    return pd.DataFrame(columns, index=pd.DatetimeIndex(log.data["time"].to_numpy()))


def read(folder, label):
    """Return the log read back, its rows written at the ends of steps and read by a label."""
    site, wiring = plants()["demo"]
    planes = {plane.name: number for number, plane in enumerate(site.planes, 1)}
    sensors = {
        "time": "Time",
        "poa_global": {name: f"G{number}" for name, number in planes.items()},
        "temp_module": {name: f"T{number}" for name, number in planes.items()},
        "temp_air": "Ta",
        "wind_speed": "W",
        "ghi": "G",
    }
    file = described(
        folder,
        {"month.csv": written(table(), label="end")},
        sensors,
        columns_of(),
        label=label,
    )
    return yieldkit.read_log(file, site, wiring.name)


def test_files_give_the_figures_of_the_log(tmp_path):
    site, wiring = plants()["demo"]
    by_file = yieldkit.review(site, None, read(tmp_path, "end"))
    direct = yieldkit.review(site, wiring, a_month())
    assert not by_file.signs
    for name in ("dc_measured", "ac_measured"):
        told, own = by_file.data[name].to_numpy(), direct.data[name].to_numpy()
        assert np.nansum(told) == pytest.approx(np.nansum(own), rel=2e-3)
    assert by_file.data["pr"].to_numpy() == pytest.approx(direct.data["pr"].to_numpy(), rel=5e-3)
    assert by_file.data.attrs["light"] == "light measured on the planes"


def test_light_that_was_measured_elsewhere_is_not_said_to_be_measured_on_the_planes():
    (site, _), log = plants()["demo"], a_month()
    assert _weather(site, log, None)[1] == ON_PLANES
    west = measured_name(POA, site.planes[0].name)
    turned = log.weather.copy()
    turned[west].attrs |= {"sensor_tilt_deg": 30.0, "sensor_azimuth_deg": 90.0}
    assert _weather(site, log, turned)[1] == ON_SOME_PLANES
    assert _weather(site, log, log.weather.drop_vars(west))[1] == ON_SOME_PLANES
    bare = log.weather.drop_vars([measured_name(POA, plane.name) for plane in site.planes])
    assert _weather(site, log, bare)[1] == ON_THE_LEVEL


def test_rows_read_by_their_other_end(tmp_path):
    site, _ = plants()["demo"]
    found = yieldkit.review(site, None, read(tmp_path, "start"))
    (sign,) = found.signs
    assert sign.kind == CLOCK
    assert sign.size.value == pytest.approx(10.0, abs=3.0)
