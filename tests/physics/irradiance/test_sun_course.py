"""The sun from a table of days against the library's own position at every instant."""

import numpy as np
import pandas as pd
import pvlib
import pytest

from yieldkit.physics.irradiance.sun import sun_instants, sun_position
from yieldkit.physics.irradiance.sun_course import Place, nanoseconds

AGREES_DEG = 1e-6
LATITUDES = (-90.0, -78.2, -66.56, -34.0, -23.4, 0.0, 12.5, 23.4, 45.0, 51.5, 66.56, 78.2, 90.0)


def library(times, latitude, longitude, altitude):
    """Return the library's own position, the baseline."""
    return pvlib.solarposition.get_solarposition(times, latitude, longitude, altitude=altitude)


def gaps(times, latitude, longitude, altitude):
    """Return how far off zeniths and azimuth are [deg], the azimuth as seen in the sky."""
    ours = sun_position(times, latitude, longitude, altitude)
    theirs = library(times, latitude, longitude, altitude)
    # At -0.83 degrees the algorithm itself switches refraction off with a jump.
    elevation = 90.0 - theirs["zenith"].to_numpy()
    clear = np.abs(elevation + 0.83337) > 1e-5
    turned = (ours.azimuth - theirs["azimuth"].to_numpy() + 180.0) % 360.0 - 180.0
    # Around the point straight above an azimuth means ever less.
    turned *= np.sin(np.radians(ours.zenith))
    apparent = (ours.apparent_zenith - theirs["apparent_zenith"].to_numpy())[clear]
    return [
        float(np.max(np.abs(each)))
        for each in (apparent, ours.zenith - theirs["zenith"].to_numpy(), turned)
    ]


def scattered(count, seed):
    """Return instants anywhere from 1990 to 2050, to the nanosecond, not in order."""
    rng = np.random.default_rng(seed)
    first, last = (pd.Timestamp(f"{year}-01-01").value for year in (1990, 2051))
    return pd.DatetimeIndex(rng.integers(first, last, count)).tz_localize("UTC")


@pytest.mark.parametrize("latitude", LATITUDES)
def test_any_instant_of_sixty_years_agrees_with_the_library(latitude):
    longitude = 360.0 * np.random.default_rng(int(latitude + 90.0)).random() - 180.0
    times = scattered(2000, 7 + int(latitude + 90.0))
    assert max(gaps(times, latitude, longitude, 350.0)) < AGREES_DEG


def test_every_hour_of_a_year_agrees_at_any_height():
    times = pd.date_range("2024-01-01", periods=8784, freq="h", tz="UTC")
    for altitude in (-400.0, 0.0, 4800.0):
        assert max(gaps(times, 45.0, 8.0, altitude)) < AGREES_DEG


@pytest.mark.parametrize("step", ["1s", "1min", "17min", "1h", "1D", "400D"])
def test_any_step_and_the_turn_of_a_year_agree(step):
    times = pd.date_range("2019-12-31 22:00", periods=300, freq=step, tz="UTC")[:100]
    assert max(gaps(times[times.year < 2051], -33.9, 151.2, 20.0)) < AGREES_DEG


def test_one_instant_alone_has_the_sun_of_the_same_instant_among_others():
    times = scattered(50, 3)
    together = sun_position(times, 51.5, -0.1, 30.0)
    for number, each in enumerate(times):
        alone = sun_position(pd.DatetimeIndex([each]), 51.5, -0.1, 30.0)
        assert alone.apparent_zenith[0] == together.apparent_zenith[number]
        assert alone.azimuth[0] == together.azimuth[number]


def test_years_join_without_a_step():
    # A nanosecond on either side of midnight at New Year: two tables, one sun.
    turn = pd.Timestamp("2031-01-01", tz="UTC")
    times = pd.DatetimeIndex([turn - pd.Timedelta(1, "ns"), turn])
    sun = sun_position(times, 45.0, 8.0, 0.0)
    assert sun.zenith[0] == pytest.approx(sun.zenith[1], abs=1e-9)
    assert sun.azimuth[0] == pytest.approx(sun.azimuth[1], abs=1e-9)


def test_azimuths_stay_below_a_full_turn():
    # Due north is 0 and never 360, whatever a last digit says.
    times = scattered(5000, 11)
    for latitude in (-90.0, -34.0, 45.0, 90.0):
        azimuth = sun_position(times, latitude, 8.0, 0.0).azimuth
        assert (azimuth >= 0.0).all()
        assert (azimuth < 360.0).all()


def test_local_clocks_and_no_steps_at_all():
    utc = pd.date_range("2019-06-21 04:00", periods=12, freq="h", tz="UTC")
    for zone in ("Etc/GMT+7", "Asia/Kathmandu"):
        moved = sun_position(utc.tz_convert(zone), 45.0, 8.0, 200.0)
        assert (moved.zenith == sun_position(utc, 45.0, 8.0, 200.0).zenith).all()
    nothing = Place(45.0, 8.0, 200.0).angles(nanoseconds(utc[:0]))
    assert all(part.size == 0 for part in nothing)


@pytest.mark.parametrize("interval_s", [60.0, 900.0, 3600.0])
def test_the_sunlit_middle_is_that_of_the_library(interval_s):
    # Ten halvings of the interval with the library's own elevation, as it was done before.
    starts = pd.date_range("2019-03-20", periods=int(86_400 / interval_s), freq=f"{interval_s:g}s")
    starts, place = starts.tz_localize("UTC"), (45.0, 8.0, 200.0)
    found = sun_instants(starts, interval_s, "mean", 0.0, *place)
    moved = np.flatnonzero(found != starts + pd.Timedelta(seconds=interval_s / 2.0))
    assert moved.size == 2
    for row in moved:
        low, high = 0.0, 1.0
        up = library(starts[[row]], *place)["elevation"].iloc[0] > 0.0
        for _ in range(10):
            half = 0.5 * (low + high)
            at = starts[[row]] + pd.to_timedelta([half * interval_s], unit="s")
            same = (library(at, *place)["elevation"].iloc[0] > 0.0) == up
            low, high = (half, high) if same else (low, half)
        crossing = 0.5 * (low + high)
        share = crossing / 2.0 if up else (1.0 + crossing) / 2.0
        expected = starts[row] + pd.Timedelta(share * interval_s, "s")
        assert abs((found[row] - expected).total_seconds()) < 1e-6
