"""A result that isn't a number is an error, not a yield."""

import numpy as np
import pytest

from tests.study.sites import demo
from tests.weather.clear_sky import averaged
from yieldkit.study.simulate import simulate
from yieldkit.words.errors import InputError


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
def test_energy_that_is_no_number_is_refused():
    weather = averaged().isel(time=slice(0, 48))
    dark = weather["temp_air"].to_numpy().copy()
    dark[12] = -np.inf
    with pytest.raises(InputError, match="kWh delivered; expected a finite energy") as refused:
        simulate(demo(), weather=weather.assign(temp_air=("time", dark)))
    assert "Look for nan, inf and very large numbers in the weather." in str(refused.value)
