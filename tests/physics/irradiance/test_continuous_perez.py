"""The continuous sky model in polynomials against the library's splines."""

import numpy as np
import pytest
from pvlib import atmosphere, irradiance

from yieldkit.physics.irradiance import continuous_perez

COUNT = 20_000


def moments():
    """Return diffuse, direct [W/m2], apparent zenith and azimuth [deg] of any sky, edges too."""
    rng = np.random.default_rng(4)
    dhi = 500.0 * rng.random(COUNT)
    dni = 1000.0 * rng.random(COUNT) * (rng.random(COUNT) > 0.3)
    dhi[:50], dhi[50:60], dni[60:70] = 0.0, np.nan, np.nan
    zenith = 95.0 * rng.random(COUNT)
    zenith[100:110] = 90.0
    return dhi, dni, zenith, 360.0 * rng.random(COUNT)


@pytest.mark.parametrize(("tilt", "azimuth"), [(0.0, 0.0), (28.0, 265.0), (90.0, 12.0)])
def test_a_plane_has_the_librarys_sky(tilt, azimuth):
    dhi, dni, zenith, turned = moments()
    extra, airmass = np.full(COUNT, 1366.1), atmosphere.get_relative_airmass(zenith)
    expected = irradiance.perez_driesse(tilt, azimuth, dhi, dni, extra, zenith, turned, airmass)
    projection = irradiance.aoi_projection(tilt, azimuth, zenith, turned)
    found = continuous_perez.sky_diffuse((dhi, dni), zenith, (extra, airmass), tilt, projection)
    assert np.isnan(found[50:70]).all()
    assert found == pytest.approx(expected, rel=1e-9, abs=1e-9, nan_ok=True)


@pytest.mark.parametrize("knot", [0.0, 0.061, 0.187, 0.333, 0.487, 0.643, 0.778, 0.839, 1.0])
def test_knots_are_passed_without_a_step(knot):
    # Of a sun straight above a sky's clearness is the direct share of its light.
    share = np.clip(knot + np.array([-1e-9, 0.0, 1e-9]), 0.0, 1.0)
    straight, one = np.zeros(3), np.ones(3)
    found = continuous_perez.sky_diffuse(
        (400.0 * (1.0 - share), 400.0 * share), straight, (1366.1 * one, one), 40.0, 0.7 * one
    )
    assert np.ptp(found) < 1e-5
