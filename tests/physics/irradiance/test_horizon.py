"""What a far horizon hides, and the light from round the sun that goes with the beam."""

import numpy as np
import pytest
from pvlib import irradiance

from tests.physics.irradiance.test_sky import on_plane, sun_at
from yieldkit.physics.irradiance.circumsolar import CIRCUMSOLAR, circumsolar
from yieldkit.physics.irradiance.horizon import with_horizon
from yieldkit.physics.irradiance.sky import TRANSPOSITION, Horizontal, plane_irradiance

COUNT = 500
RNG = np.random.default_rng(11)
SKIES = Horizontal(*(RNG.uniform(5.0, most, COUNT) for most in (900.0, 900.0, 400.0)))
SUNS = sun_at(RNG.uniform(0.0, 89.9, COUNT), RNG.uniform(0.0, 360.0, COUNT))


def around(model, tilt, azimuth, share=0.0, sun=SUNS, light=SKIES):
    """Return a plane's light under an open sky, and its part from round the sun."""
    seen = plane_irradiance(sun, light, 0.2, tilt, azimuth, model, share)
    return seen, circumsolar(seen, sun, light, tilt, azimuth, model, share)


def test_every_model_of_the_sky_says_what_comes_from_round_the_sun():
    assert set(CIRCUMSOLAR) == set(TRANSPOSITION)


@pytest.mark.parametrize(
    ("model", "function"),
    [
        ("hay-davies", irradiance.haydavies),
        ("reindl", irradiance.reindl),
        ("perez-1990", irradiance.perez),
        ("perez-driesse", irradiance.perez_driesse),
    ],
)
@pytest.mark.parametrize(("tilt", "azimuth"), [(0.0, 180.0), (35.0, 200.0), (90.0, 90.0)])
def test_it_is_the_librarys_own_part(model, function, tilt, azimuth):
    _, found = around(model, tilt, azimuth)
    last = () if model in ("hay-davies", "reindl") else (SUNS.airmass,)
    ghi = (SKIES.ghi,) if model == "reindl" else ()
    place = (tilt, azimuth, SKIES.dhi, SKIES.dni, *ghi, SUNS.dni_extra, SUNS.zenith, SUNS.azimuth)
    parts = function(*place, *last, return_components=True)
    whole = np.maximum(parts["poa_sky_diffuse"], 0.0)
    expected = np.minimum(parts["poa_circumsolar"], whole)
    assert found == pytest.approx(expected, rel=1e-9, abs=1e-9)
    assert np.max(found) > 50.0


def test_an_even_sky_has_none_and_a_mixed_one_its_share():
    assert np.all(around("isotropic", 30.0, 180.0)[1] == 0.0)
    whole, half = (around("hay-davies", 30.0, 180.0, share)[1] for share in (0.0, 0.5))
    assert half == pytest.approx(0.5 * whole, rel=1e-12)


def test_it_is_missing_where_the_light_is_and_none_below_the_horizon():
    light = Horizontal(*(np.array([np.nan, 80.0]) for _ in range(3)))
    found = around("perez-driesse", 30.0, 180.0, sun=sun_at([40.0, 93.0]), light=light)[1]
    assert np.isnan(found[0])
    assert found[1] == 0.0


def test_the_light_from_round_the_sun_goes_with_the_beam():
    walls = np.array([0.0, 180.0])
    for model in TRANSPOSITION:
        seen, near = around(model, 30.0, 180.0)
        low = with_horizon(seen, SUNS, walls, np.full(2, 40.0), 30.0, 180.0, near)
        hidden = SUNS.apparent_zenith > 50.0
        rest = seen.poa_sky_diffuse - near
        share = (low.poa_sky_diffuse - np.where(hidden, 0.0, near)) / np.maximum(rest, 1e-9)
        assert np.ptp(share[rest > 1.0]) < 1e-9
        assert np.all(low.poa_direct[hidden] == 0.0)
        assert np.all(low.poa_direct[~hidden] == seen.poa_direct[~hidden])
        # As if all of it were even, a bright sun's surroundings would stay behind the wall.
        assert np.all(low.poa_sky_diffuse[hidden] <= rest[hidden] + 1e-9)


def test_a_horizon_hides_the_sun_below_it_and_its_share_of_the_sky():
    seen = on_plane("isotropic", 0.0)
    flat = np.array([0.0, 180.0])
    nothing = with_horizon(seen, sun_at(40.0), flat, np.zeros(2), 0.0, 180.0, np.zeros(1))
    assert nothing.poa_global[0] == pytest.approx(seen.poa_global[0], rel=1e-12)
    # A wall of 60 deg all round leaves cos2(60 deg)... of an isotropic sky on a level plane, the
    # part above it: 1 - sin2(60) = 25 %.
    walls = with_horizon(seen, sun_at(40.0), flat, np.full(2, 60.0), 0.0, 180.0, np.zeros(1))
    assert walls.poa_direct[0] == 0.0
    assert walls.poa_sky_diffuse[0] / seen.poa_sky_diffuse[0] == pytest.approx(0.25, abs=0.01)
    north = with_horizon(
        seen,
        sun_at(40.0),
        np.array([0.0, 90.0, 180.0, 270.0]),
        np.array([80.0, 0, 0, 0]),
        0.0,
        180.0,
        np.zeros(1),
    )
    assert north.poa_direct[0] == seen.poa_direct[0]
