"""Annual energy against pvlib's own chain where circuits are trivial and models are the same.

A vertical plane sees as much sky as ground, so that the chain's single diffuse factor is the
same as our two.
"""

import warnings

import numpy as np
import pandas as pd
import pytest
from pvlib import iam
from pvlib.location import Location
from pvlib.pvsystem import Array, FixedMount

from benchmarks.library_chain import diode_parameters, library_chain
from tests.study.sites import NO_LOSSES_BEHIND, demo_mapping, string, variant, weather, wiring
from yieldkit.physics.module.temperature import MOUNTING, wind_at_height
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import simulate_prepared
from yieldkit.study.simulation.trackers import Solutions

pytestmark = pytest.mark.slow

PLANES = {"west roof": 265.0, "east roof": 85.0, "dormer": 175.0}


def site_on_walls():
    """Return the site with all planes vertical and one string of each."""
    planes = [
        dict(plane, tilt_deg=90.0, azimuth_deg=PLANES[plane["name"]], mounting="facade")
        for plane in demo_mapping()["planes"]
    ]
    strings = {f"MPPT_{number}": [string((name, 7))] for number, name in enumerate(PLANES, start=1)}
    limits = {}
    for number in (1, 2, 3):
        path = f"inverter.mppts.MPPT {number}."
        limits |= {
            path + "mpp_voltage_min_v": 5.0,
            path + "start_voltage_v": 5.0,
            path + "stop_voltage_v": 1.0,
            path + "start_power_w": 0.0,
            path + "stop_power_w": 0.0,
            path + "full_power_voltage_min_v": None,
            path + "max_input_current_a": None,
            path + "max_power_w": None,
            path + "tracking_efficiency": 1.0,
        }
    return variant(NO_LOSSES_BEHIND | limits, [wiring("walls", **strings)], planes)


def chain(site):
    """Return pvlib's chain for the same arrays."""
    module = diode_parameters(site) | {
        "FD": float(iam.marion_integrate(iam.physical, 90.0, "sky")),
        "pdc0": 430.0,
    }
    heat = MOUNTING["facade"]
    arrays = [
        Array(
            FixedMount(plane.tilt_deg, plane.azimuth_deg),
            albedo=site.site.albedo,
            module_parameters=module,
            temperature_model_parameters={"u0": heat.u0, "u1": heat.u1},
            modules_per_string=7,
            name=plane.name,
        )
        for plane in site.planes
    ]
    return library_chain(site, arrays, {"pdc0": 15_500.0})


@pytest.fixture
def plain_sun(monkeypatch):
    """Let the chain refract the light in air of 12 degC, as the library does by itself."""
    right = Location.get_solarposition

    def plain(self, times, pressure=None, temperature=12.0, **kwargs):
        return right(self, times, **kwargs)

    monkeypatch.setattr(Location, "get_solarposition", plain)


@pytest.mark.usefixtures("plain_sun")
def test_annual_dc_energy_is_the_librarys():
    site = site_on_walls()
    prepared = prepare(site, weather())
    ours = simulate_prepared(prepared, site.wirings[0], Solutions())
    attrs = weather().attrs
    assert attrs["sampling"] == "snapshot"
    times = pd.DatetimeIndex(weather().indexes["time"]).tz_localize("UTC")
    frame = pd.DataFrame(
        {name: weather()[name].to_numpy() for name in ("ghi", "dni", "dhi", "temp_air")},
        index=times + pd.Timedelta(seconds=attrs["sun_offset_s"]),
    )
    frame["wind_speed"] = wind_at_height(
        weather()["wind_speed"].to_numpy(), attrs["wind_height_m"], MOUNTING["facade"].wind_height_m
    )
    model = chain(site)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model.run_model(frame)
    for column, result in enumerate(model.results.dc):
        found = float(ours["tracker_energy"][column])
        expected = float(np.nansum(result["p_mp"].to_numpy())) / 1000.0
        assert found == pytest.approx(expected, rel=1e-6), site.planes[column].name
