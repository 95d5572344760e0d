"""Dirt from rain, against published series and by hand."""

import numpy as np
import pytest

from yieldkit.physics.irradiance.soiling import soiling_by_day, soiling_by_dust

# pvlib's tests of the settling model: calculated by hand there, read.
RAIN = np.array(
    [0, 0, 0, 0, 1, 0, 0, 0, 0.5, 0.5, 0, 0, 0, 0, 0, 0, 0.3, 0.3, 0.3, 0.3, 0, 0, 0, 0]
)
NEVER_CLEANED = [0.96998483, 0.94623958, 0.92468139, 0.90465654, 0.88589707, 0.86826366]
THREE_TIMES = [0.95036261, 0.91178179, 0.87774818, 0.84732079, 1, 1, 1, 0.95036261, 1, 1, 1, 1]


def dust(rain, cleaning_rain_mm, within_h, velocity):
    return soiling_by_dust(
        rain,
        3600.0,
        0.0,
        pm2_5=1.0,
        pm10=2.0,
        cleaning_rain_mm=cleaning_rain_mm,
        rain_within_h=within_h,
        velocity=velocity,
    )


def test_dust_settles_as_published():
    left = 1.0 - dust(RAIN, 10.0, 1, (1e-5, 1e-4))
    np.testing.assert_allclose(left[:6], NEVER_CLEANED, atol=1e-8)
    np.testing.assert_allclose(left[-1], 0.69246034, atol=1e-8)
    left = 1.0 - dust(RAIN, 0.5, 3, (1e-4, 1e-4))
    np.testing.assert_allclose(left[:12], THREE_TIMES, atol=1e-8)


def test_less_dust_lies_on_steeper_modules():
    flat, steep = (
        soiling_by_dust(
            RAIN, 3600.0, tilt, pm2_5=1e-2, pm10=2e-2, cleaning_rain_mm=9, rain_within_h=1
        )
        for tilt in (0.0, 60.0)
    )
    # pvlib's tests, read: the usual velocities, never cleaned before the fifth hour.
    np.testing.assert_allclose(1.0 - flat[:4], [0.98484972, 0.97277367, 0.96167471, 0.95119603])
    # Half the dust at 60 degrees: what lies there after two hours lay on the level after one.
    np.testing.assert_allclose(steep[1], flat[0], rtol=1e-12)


def by_day(rain, step_s=3600.0, most=0.3, rate=0.024):
    return soiling_by_day(
        rain, step_s, loss_per_day=rate, cleaning_rain_mm=6.0, damp_days=1, most_loss=most
    )


def test_dirt_grows_by_the_day_until_it_rains_enough():
    rain = np.zeros(96)
    rain[47] = 5.0
    rain[48] = 2.0  # 7 mm within a day: clean, and damp for a day more
    lost = by_day(rain)
    assert lost[24] == pytest.approx(0.024, rel=1e-12)
    assert lost[47] == pytest.approx(0.047, rel=1e-12)  # 5 mm alone wash nothing off
    assert lost[48] == 0.0
    # 7 mm lie within a day up to hour 70, the ground is damp for a day more.
    assert (lost[48:94] == 0.0).all()
    assert lost[95] > 0.0
    assert by_day(np.zeros(2000), most=0.05).max() == 0.05


def test_missing_rain_counts_as_dry_and_short_steps_as_they_are():
    dry = by_day(np.full(48, np.nan))
    np.testing.assert_array_equal(dry, by_day(np.zeros(48)))
    np.testing.assert_allclose(by_day(np.zeros(192), 900.0)[::4], dry, atol=1e-12)


def test_a_year_begins_as_dirty_as_it_ends():
    rain = np.zeros(8760)
    rain[1000] = 20.0
    lost = by_day(rain, most=0.9, rate=0.0024)
    assert lost[0] == pytest.approx(lost[-1] + 0.0001, rel=1e-9)
    assert lost[1000] == 0.0
