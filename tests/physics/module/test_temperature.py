"""Cell temperatures against printed values (check-values block 4)."""

import warnings

import numpy as np
import pandas as pd
import pvlib
import pytest
from pvlib import temperature

from yieldkit.base.errors import InputError
from yieldkit.config.models.planes import Plane
from yieldkit.physics.module.temperature import (
    MOUNTING,
    cell_temperature,
    inlet_temperature,
    mounting_model,
    transient_cell_temperature,
    wind_at_height,
)


def one(value):
    """Return an array of one value."""
    return np.array([float(value)])


# Faiman (2008) with 25 and 6.84, read in pvlib's tests.
@pytest.mark.parametrize(
    ("light", "air", "wind", "expected"),
    [(900, 20, 5, 35.203), (800, 20, 1, 45.126)],
)
def test_free_standing_modules(light, air, wind, expected):
    found = cell_temperature("open-rack", one(light), one(air), one(wind), 2.0)
    assert found[0] == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize("mounting", MOUNTING)
def test_every_mounting_follows_its_heat_loss(mounting):
    model = MOUNTING[mounting]
    found = cell_temperature(mounting, one(900), one(20), one(3.0), model.wind_height_m)
    assert found[0] == pytest.approx(20.0 + 900.0 / (model.u0 + 3.0 * model.u1), rel=1e-12)
    assert cell_temperature(mounting, one(0), one(-5), one(3), 10.0)[0] == -5.0
    light = np.linspace(0.0, 1200.0, 50)
    rising = cell_temperature(mounting, light, np.full(50, 20.0), np.full(50, 2.0), 10.0)
    assert (np.diff(rising) > 0.0).all()
    windy = cell_temperature(mounting, np.full(50, 900.0), np.full(50, 20.0), light / 100.0, 10.0)
    assert (np.diff(windy) < 0.0).all()


def test_no_two_mountings_are_the_same_and_all_words_are_known():
    hot = [cell_temperature(word, one(1000), one(30), one(2), 10.0)[0] for word in MOUNTING]
    assert len({round(value, 6) for value in hot}) == len(hot)
    assert set(Plane.model_fields["mounting"].annotation.__args__) == set(MOUNTING)
    for model in MOUNTING.values():
        assert set(model.neighbours) <= set(MOUNTING)
        assert model.source


# Sandia's model (King 2004) close to a roof (-2.98, -0.0471, 1 K) and with an insulated back
# (-2.81, -0.0455, 0 K), read in pvlib; its wind is measured at 10 m.
@pytest.mark.parametrize(
    ("mounting", "a", "b", "rise"),
    [("roof-parallel", -2.98, -0.0471, 1.0), ("integrated", -2.81, -0.0455, 0.0)],
)
@pytest.mark.parametrize("wind", [0.0, 1.0, 3.0, 5.0])
def test_roofs_are_as_hot_as_the_measured_ones(mounting, a, b, rise, wind):
    expected = pvlib.temperature.sapm_cell(800.0, 20.0, wind, a, b, rise)
    found = cell_temperature(mounting, one(800), one(20), one(wind), 10.0)[0]
    assert found == pytest.approx(expected, abs=0.7)


def test_between_open_and_insulated_lie_the_others():
    hot = {word: cell_temperature(word, one(800), one(20), one(1), 2.0)[0] for word in MOUNTING}
    # 800 W/m2, 20 degC, 1 m/s: open 43.5 to 45.9, close roof 59.6, insulated 66.0 (computed).
    assert hot["open-rack"] == pytest.approx(45.126, abs=1e-3)
    assert hot["open-rack"] < hot["flat-roof-rack"] < hot["facade"] < hot["roof-parallel"]
    assert hot["roof-parallel"] < hot["integrated"]


def test_wind_at_another_height():
    # Power law, exponent 1/7: from 10 m to 2 m 0.795.
    assert wind_at_height(one(4.0), 10.0, 2.0)[0] == pytest.approx(4.0 * 0.2 ** (1 / 7), rel=1e-12)
    assert wind_at_height(one(4.0), 2.0, 2.0)[0] == 4.0


def test_thermal_mass_smooths_and_ends_at_the_steady_state():
    times = pd.date_range("2019-06-21 10:00", periods=120, freq="min")
    light = np.where(np.arange(120) < 60, 0.0, 1000.0)
    air, wind = np.full(120, 20.0), np.full(120, 2.0)
    smooth = transient_cell_temperature("open-rack", light, air, wind, 2.0, times)
    steady = cell_temperature("open-rack", light, air, wind, 2.0)
    assert smooth[60] < 0.4 * (steady[-1] - 20.0) + 20.0
    assert smooth[-1] == pytest.approx(steady[-1], abs=0.5)
    # Twenty minutes' weighting: the mean of the last ones falls between start and end.
    assert (np.diff(smooth[60:90]) >= -1e-9).all()
    assert smooth[62] > 20.0


@pytest.mark.parametrize("minutes", [1, 5, 7, 10])
def test_thermal_mass_is_the_librarys_window_by_window(minutes):
    # Longer than a block, a gap within it, wind missing once, and shorter than its window.
    for steps in (9000, 5):
        rng = np.random.default_rng(minutes)
        times = pd.date_range("2019-06-21", periods=steps, freq=f"{minutes}min")
        light, wind = 1000.0 * rng.random(steps), 8.0 * rng.random(steps)
        air = np.full(steps, 20.0)
        if steps > 100:
            light[300:420], wind[2000] = np.nan, np.nan
        steady = cell_temperature("open-rack", light, air, wind, 2.0)
        with warnings.catch_warnings(), np.errstate(invalid="ignore"):
            warnings.filterwarnings("ignore", message=".*BaseOffset.*")
            expected = temperature.prilliman(
                pd.Series(steady, index=times), pd.Series(wind, index=times)
            ).to_numpy()
        expected = np.where(np.isnan(expected) | np.isnan(steady), steady, expected)
        found = transient_cell_temperature("open-rack", light, air, wind, 2.0, times)
        assert found == pytest.approx(expected, rel=1e-12, nan_ok=True)


def test_the_inlet_is_warmer_by_its_place():
    assert inlet_temperature(one(35.0), 8.0)[0] == 43.0


def test_an_unknown_mounting_is_refused():
    with pytest.raises(InputError, match="'roof-paralel'") as refused:
        mounting_model("roof-paralel")
    assert "Did you mean 'roof-parallel'?" in str(refused.value)
