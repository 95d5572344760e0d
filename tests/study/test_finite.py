"""A weather value that is no number is a gap, not a yield."""

import numpy as np
import pytest

from tests.study.sites import demo
from tests.weather.clear_sky import averaged
from yieldkit.study.simulation.simulate import simulate

pytestmark = pytest.mark.slow


def test_an_infinite_temperature_makes_its_step_missing():
    weather = averaged().isel(time=slice(0, 48))
    dark = weather["temp_air"].to_numpy().copy()
    dark[12] = -np.inf
    result = simulate(demo(), weather=weather.assign(temp_air=("time", dark)))
    assert result.attrs["missing_steps"] == 1
    assert np.isnan(result["p_ac"].to_numpy()[12])
    assert np.isfinite(result.attrs["energy_kwh"])
