"""The sun against the algorithm's own worked example, a textbook's, and printed tables."""

import numpy as np
import pandas as pd
import pvlib
import pytest

from yieldkit.physics.irradiance.sky import Horizontal, plane_irradiance
from yieldkit.physics.irradiance.sun import Sun, sun_instants, sun_position

# Reda and Andreas (2004), Appendix A5: 2003-10-17 12:30:30 at UTC-7, 39.742476 N, 105.1786 W,
# 1830.14 m. Read in pvlib's tests and computed (check-values block 1).
EXAMPLE = pd.DatetimeIndex(["2003-10-17 12:30:30"]).tz_localize("Etc/GMT+7")
PLACE = (39.742476, -105.1786, 1830.14)


def test_worked_example_of_the_algorithm():
    position = pvlib.solarposition.get_solarposition(
        EXAMPLE, *PLACE[:2], altitude=PLACE[2], pressure=82000.0, temperature=11.0, delta_t=67.0
    )
    ours = sun_position(EXAMPLE, *PLACE)
    assert position["apparent_zenith"].iloc[0] == pytest.approx(50.11162, abs=1e-4)
    # Our pressure follows from the altitude and the air is taken at 12 degC.
    assert ours.apparent_zenith[0] == pytest.approx(50.11162, abs=1e-3)
    assert ours.azimuth[0] == pytest.approx(194.340241, abs=1e-4)
    assert 90.0 - ours.zenith[0] == pytest.approx(39.872046, abs=1e-4)


def test_incidence_in_the_worked_example():
    # Slope 30 deg, rotated 10 deg from south towards east; 25.18700 deg, from memory, computed.
    sun = sun_position(EXAMPLE, *PLACE)
    one = np.ones(1)
    seen = plane_irradiance(sun, Horizontal(one, one, one), 0.2, 30.0, 170.0, "isotropic")
    assert seen.aoi[0] == pytest.approx(25.187, abs=2e-3)


def test_textbook_incidence():
    # Duffie and Beckman, example 1.6.1, from memory: 43 N, declination -14, slope 45, azimuth 15
    # west of south, hour angle -22.5: 35.0 deg printed, 35.176 exact; zenith 60.619.
    declination, latitude, hour = np.radians([-14.0, 43.0, -22.5])
    height = np.arcsin(
        np.sin(latitude) * np.sin(declination)
        + np.cos(latitude) * np.cos(declination) * np.cos(hour)
    )
    azimuth = np.degrees(
        np.arctan2(
            -np.cos(declination) * np.sin(hour),
            np.sin(declination) * np.cos(latitude)
            - np.cos(declination) * np.sin(latitude) * np.cos(hour),
        )
    )
    zenith = 90.0 - np.degrees(height)
    assert zenith == pytest.approx(60.619, abs=1e-3)
    sun = Sun(*(np.array([v]) for v in (zenith, zenith, azimuth % 360.0, 1367.0, 2.0, 44.0)))
    one = np.ones(1)
    seen = plane_irradiance(sun, Horizontal(one, one, one), 0.2, 45.0, 195.0, "isotropic")
    assert seen.aoi[0] == pytest.approx(35.176, abs=2e-3)


# Kasten and Young (1989), formula from memory, computed.
@pytest.mark.parametrize(
    ("zenith", "airmass"),
    [
        (0, 0.9997),
        (30, 1.1540),
        (48.2, 1.4983),
        (60, 1.9943),
        (70, 2.9031),
        (75, 3.8129),
        (80, 5.5860),
        (85, 10.3058),
        (88, 19.4332),
        (90, 37.9196),
    ],
)
def test_air_mass(zenith, airmass):
    # The air mass of a position is that of its apparent zenith.
    found = pvlib.atmosphere.get_relative_airmass(float(zenith), model="kastenyoung1989")
    assert found == pytest.approx(airmass, abs=5e-4)


def test_a_positions_air_mass_follows_kasten_and_young():
    times = pd.date_range("2019-06-21 04:00", periods=12, freq="h", tz="UTC")
    sun = sun_position(times, 45.0, 8.0, 200.0)
    z = sun.apparent_zenith
    expected = 1.0 / (np.cos(np.radians(z)) + 0.50572 * (96.07995 - z) ** -1.6364)
    up = z < 89.0
    assert sun.airmass[up] == pytest.approx(expected[up], rel=1e-9)
    night = sun_position(pd.DatetimeIndex(["2019-06-21 23:30"], tz="UTC"), 45.0, 8.0, 200.0)
    assert np.isnan(night.airmass).all()


# Spencer (1971), solar constant 1366.1 W/m2, computed.
@pytest.mark.parametrize(
    ("day", "power"),
    [
        ("2019-01-01", 1413.98),
        ("2019-01-03", 1414.02),
        ("2019-03-20", 1377.69),
        ("2019-07-01", 1320.54),
        ("2019-07-04", 1320.46),
    ],
)
def test_extraterrestrial_irradiance(day, power):
    sun = sun_position(pd.DatetimeIndex([day + " 12:00"], tz="UTC"), 45.0, 8.0, 0.0)
    assert sun.dni_extra[0] == pytest.approx(power, abs=0.05)


def test_extraterrestrial_irradiance_swings_by_three_percent_and_a_half():
    days = pd.date_range("2019-01-01 12:00", periods=365, freq="D", tz="UTC")
    extra = sun_position(days, 45.0, 8.0, 0.0).dni_extra
    assert extra.max() / 1366.1 - 1.0 == pytest.approx(0.034, abs=0.002)
    assert 1.0 - extra.min() / 1366.1 == pytest.approx(0.034, abs=0.002)


def test_sunrise_and_sunset_of_the_worked_example():
    # 06:12:43 and 17:20:19 at UTC-7, from memory, computed: the sunlit part of its hours.
    starts = pd.DatetimeIndex(["2003-10-17 06:00", "2003-10-17 12:00", "2003-10-17 17:00"])
    starts = starts.tz_localize("Etc/GMT+7").tz_convert("UTC")
    found = sun_instants(starts[[0]], 3600.0, "mean", 0.0, *PLACE)
    # The middle between sunrise (true horizon; the printed one has 0.83 deg) and seven o'clock.
    rise = found[0] - (pd.Timestamp("2003-10-17 14:00", tz="UTC") - found[0])
    assert abs((rise - pd.Timestamp("2003-10-17 13:17", tz="UTC")).total_seconds()) < 120.0
    found = sun_instants(starts[[2]], 3600.0, "mean", 0.0, *PLACE)
    fall = found[0] + (found[0] - starts[2])
    assert abs((fall - pd.Timestamp("2003-10-18 00:16", tz="UTC")).total_seconds()) < 120.0
    noon = sun_instants(starts[[1]], 3600.0, "mean", 0.0, *PLACE)
    assert noon[0] == starts[1] + pd.Timedelta("30min")


def test_snapshots_take_the_sun_at_their_instant():
    starts = pd.date_range("2019-06-21", periods=24, freq="h", tz="UTC")
    found = sun_instants(starts, 3600.0, "snapshot", 634.0, 45.0, 8.0, 200.0)
    assert (found == starts + pd.Timedelta(seconds=634)).all()


@pytest.mark.parametrize("unit", ["s", "ms", "us", "ns"])
def test_the_resolution_of_an_index_moves_no_sun(unit):
    times = pd.date_range("2019-06-21 04:00", periods=12, freq="h", tz="UTC").as_unit(unit)
    expected = sun_position(times.as_unit("ns"), 45.0, 8.0, 200.0)
    assert sun_position(times, 45.0, 8.0, 200.0).apparent_zenith == pytest.approx(
        expected.apparent_zenith, abs=1e-9
    )


@pytest.mark.parametrize("latitude", [69.65, 78.2, -78.0])
def test_polar_night_and_day_have_a_sun_and_no_warnings(latitude):
    for month in ("2019-06-21", "2019-12-21"):
        starts = pd.date_range(month, periods=24, freq="h", tz="UTC")
        instants = sun_instants(starts, 3600.0, "mean", 0.0, latitude, 18.96, 10.0)
        sun = sun_position(instants, latitude, 18.96, 10.0)
        assert np.isfinite(sun.apparent_zenith).all()
        zero = np.zeros(24)
        seen = plane_irradiance(
            sun, Horizontal(zero, zero, zero), 0.2, 30.0, 180.0, "perez-driesse"
        )
        assert (seen.poa_global == 0.0).all()
