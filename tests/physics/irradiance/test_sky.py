"""Decomposition, transposition and incidence against printed values (check-values 2 and 3)."""

import numpy as np
import pytest

from yieldkit.base.errors import InputError
from yieldkit.config.site.site import ModelChoices
from yieldkit.physics.irradiance.sky import (
    DECOMPOSITION,
    INCIDENCE,
    TRANSPOSITION,
    Horizontal,
    decompose,
    effective_irradiance,
    incidence_modifiers,
    plane_irradiance,
)
from yieldkit.physics.irradiance.sun import Sun


def sun_at(zenith, azimuth=170.0, extra=1367.0, airmass=1.3044, day=79):
    """Return one sun or several."""
    shape = np.atleast_1d(np.asarray(zenith, dtype=float))
    return Sun(
        shape,
        shape,
        *(
            np.broadcast_to(np.asarray(v, dtype=float), shape.shape)
            for v in (azimuth, extra, airmass)
        ),
        np.full(shape.shape, day),
    )


# DNI 800, DHI 100, z 40, az 170, plane south, G_on 1367, AM 1.3044, albedo 0.2: sky diffuse and
# total at tilt 30 and 90, computed with pvlib, two rows by hand.
TABLE = [
    ("isotropic", 93.301, 886.792, 50.000, 627.701),
    ("hay-davies", 113.561, 907.051, 69.099, 646.800),
    ("reindl", 114.183, 907.673, 75.897, 653.599),
    ("perez-1990", 119.642, 913.133, 85.396, 663.097),
]
GHI = 800.0 * np.cos(np.radians(40.0)) + 100.0


def moment(ghi, dni, dhi):
    """Return the sky's irradiance at one moment."""
    return Horizontal(*(np.array([value]) for value in (ghi, dni, dhi)))


def on_plane(model, tilt, azimuth=180.0, ghi=GHI, dni=800.0, dhi=100.0, sun=None, albedo=0.2):
    """Return the irradiance on a plane in the table's light."""
    return plane_irradiance(
        sun or sun_at(40.0), moment(ghi, dni, dhi), albedo, tilt, azimuth, model
    )


@pytest.mark.parametrize(("model", "sky30", "total30", "sky90", "total90"), TABLE)
def test_transposition_of_one_moment(model, sky30, total30, sky90, total90):
    flat, steep = on_plane(model, 30.0), on_plane(model, 90.0)
    assert flat.poa_sky_diffuse[0] == pytest.approx(sky30, abs=0.002)
    assert flat.poa_global[0] == pytest.approx(total30, abs=0.002)
    assert steep.poa_sky_diffuse[0] == pytest.approx(sky90, abs=0.002)
    assert steep.poa_global[0] == pytest.approx(total90, abs=0.002)
    assert flat.poa_direct[0] == pytest.approx(783.940, abs=0.002)
    assert steep.poa_direct[0] == pytest.approx(506.418, abs=0.002)
    assert flat.poa_ground_diffuse[0] == pytest.approx(9.550, abs=0.002)
    assert steep.poa_ground_diffuse[0] == pytest.approx(71.284, abs=0.002)


def test_hay_davies_by_hand():
    a, rb = 800.0 / 1367.0, 783.940 / (800.0 * np.cos(np.radians(40.0)))
    by_hand = 100.0 * ((1.0 - a) * (1.0 + np.cos(np.radians(30.0))) / 2.0 + a * rb)
    assert by_hand == pytest.approx(113.562, abs=1e-3)
    assert on_plane("hay-davies", 30.0).poa_sky_diffuse[0] == pytest.approx(by_hand, abs=2e-3)


def test_perez_by_hand():
    # z 40, AM 1.304224: clearness 6.9075 (bin 8), brightness 0.095408, F1 0.472269, F2 0.199855.
    found = on_plane("perez-1990", 30.0, sun=sun_at(40.0, airmass=1.304224))
    assert found.poa_sky_diffuse[0] == pytest.approx(119.64341, abs=1e-4)


@pytest.mark.parametrize("model", TRANSPOSITION)
def test_limits_of_every_transposition(model):
    level = on_plane(model, 0.0)
    assert level.poa_sky_diffuse[0] == pytest.approx(100.0, abs=0.05)
    assert level.poa_ground_diffuse[0] == 0.0
    assert level.poa_global[0] == pytest.approx(GHI, abs=0.05)
    dark = on_plane(model, 30.0, ghi=0.0, dni=0.0, dhi=0.0)
    assert dark.poa_global[0] == 0.0
    behind = on_plane(model, 90.0, azimuth=0.0)
    assert behind.poa_direct[0] == 0.0
    assert behind.poa_global[0] > 0.0
    missing = on_plane(model, 30.0, dni=np.nan)
    assert np.isnan(missing.poa_global[0])
    below = on_plane(model, 30.0, ghi=2.0, dni=0.0, dhi=2.0, sun=sun_at(97.0, airmass=np.nan))
    assert below.poa_global[0] == pytest.approx(2.0 * 0.9330 + 2.0 * 0.2 * 0.0670, abs=1e-3)


def test_isotropic_sky_at_a_right_angle():
    found = on_plane("isotropic", 90.0, ghi=500.0, dni=0.0, dhi=100.0)
    assert found.poa_sky_diffuse[0] == pytest.approx(50.0)
    assert found.poa_ground_diffuse[0] == pytest.approx(50.0)


def test_an_evenly_bright_share_lies_between_the_model_and_an_isotropic_sky():
    sun = sun_at(40.0)
    found = plane_irradiance(sun, moment(GHI, 800.0, 100.0), 0.2, 30.0, 180.0, "hay-davies", 0.25)
    # From the table: 113.562 by the model, 93.301 from an isotropic sky.
    assert found.poa_sky_diffuse[0] == pytest.approx(0.75 * 113.562 + 0.25 * 93.301, abs=2e-3)


def test_hay_davies_without_beam_is_isotropic():
    found = on_plane("hay-davies", 40.0, ghi=100.0, dni=0.0)
    expected = on_plane("isotropic", 40.0, ghi=100.0, dni=0.0)
    assert found.poa_sky_diffuse[0] == pytest.approx(expected.poa_sky_diffuse[0], rel=1e-12)


def test_dni_and_dhi_of_zero_with_the_sun_up_are_no_missing_values():
    for model in TRANSPOSITION:
        found = on_plane(model, 30.0, ghi=0.0, dni=0.0, dhi=0.0, sun=sun_at(60.0))
        assert found.poa_global[0] == 0.0


def test_beam_at_the_horizon_stays_within_reason():
    # z 89.5 with DNI 900: the default model's sky stays small, where others reach 396 W/m2.
    sun = sun_at(89.5, azimuth=90.0, airmass=30.0)
    found = on_plane("perez-driesse", 30.0, azimuth=90.0, ghi=58.0, dni=900.0, dhi=50.0, sun=sun)
    assert found.poa_sky_diffuse[0] < 100.0


def test_the_words_of_the_configuration_are_the_tables_keys():
    fields = ModelChoices.model_fields
    for table, name in (
        (TRANSPOSITION, "transposition"),
        (INCIDENCE, "incidence"),
        (DECOMPOSITION, "decomposition"),
    ):
        assert set(fields[name].annotation.__args__) == set(table)


def test_any_two_models_differ():
    skies = [on_plane(model, 35.0).poa_sky_diffuse[0] for model in TRANSPOSITION]
    assert len({round(value, 3) for value in skies}) == len(skies)
    oblique = [incidence_modifiers(np.array([65.0]), 30.0, word).beam[0] for word in INCIDENCE]
    assert len({round(value, 4) for value in oblique}) == len(oblique)
    split = [decompose(np.array([400.0]), sun_at(60.0), word)[1][0] for word in DECOMPOSITION]
    assert len({round(value, 3) for value in split}) == len(split)


# Erbs (1982): diffuse fraction by clearness, formula from memory, computed.
@pytest.mark.parametrize(
    ("clearness", "fraction"),
    [
        (0.1, 0.991),
        (0.22, 0.9802),
        (0.3, 0.948596),
        (0.5, 0.65915),
        (0.7, 0.24398),
        (0.8, 0.16527),
        (0.9, 0.165),
    ],
)
def test_erbs_by_clearness(clearness, fraction):
    import pvlib

    day = 79
    extra = float(pvlib.irradiance.get_extra_radiation(day))
    ghi = np.array([clearness * extra * np.cos(np.radians(50.0))])
    dni, dhi = decompose(ghi, sun_at(50.0, extra=extra, day=day), "erbs")
    assert dhi[0] / ghi[0] == pytest.approx(fraction, abs=2e-5)
    assert dni[0] * np.cos(np.radians(50.0)) + dhi[0] == pytest.approx(ghi[0], abs=1e-9)


def test_erbs_of_one_moment():
    # GHI 500, z 60, day 79: DHI 104.0203, DNI 791.9593, computed.
    dni, dhi = decompose(np.array([500.0, np.nan]), sun_at([60.0, 60.0]), "erbs")
    assert dhi[0] == pytest.approx(104.0203, abs=1e-3)
    assert dni[0] == pytest.approx(791.9593, abs=1e-2)
    assert np.isnan([dni[1], dhi[1]]).all()


def test_textbook_hours_on_a_steep_plane():
    # Duffie and Beckman, examples 2.15.1 and 2.16.1, inputs from memory, computed: beam ratio
    # 1.71, tilt 60, albedo 0.60, in MJ/m2: isotropic 1.168 (printed 1.17), Hay-Davies 1.248,
    # HDKR 1.280. The beam ratio is turned into a sun with that ratio.
    diffuse, beam, total, extra = 0.798, 0.242, 1.04, 2.34
    zenith = 70.0
    cosine = 1.71 * np.cos(np.radians(zenith))
    # Azimuth at which a south plane of 60 deg has the ratio.
    side = (cosine - np.cos(np.radians(zenith)) * 0.5) / (
        np.sin(np.radians(zenith)) * np.sin(np.pi / 3)
    )
    azimuth = 180.0 + np.degrees(np.arccos(side))
    up = np.cos(np.radians(zenith))
    sun = sun_at(zenith, azimuth=azimuth, extra=extra / up)
    for model, expected in (("isotropic", 1.168), ("hay-davies", 1.248), ("reindl", 1.280)):
        found = on_plane(model, 60.0, ghi=total, dni=beam / up, dhi=diffuse, sun=sun, albedo=0.6)
        assert found.poa_global[0] == pytest.approx(expected, abs=0.01), model


ANGLES = np.array([0.0, 30.0, 50.0, 60.0, 70.0, 80.0, 85.0, 90.0, 120.0])
# Modifiers at those angles, computed with pvlib's formulas (check-values block 3).
BEAM = {
    "fresnel": [1, 0.99789, 0.97984, 0.94600, 0.85972, 0.63412, 0.40088, 0, 0],
    "ashrae": [1, 0.99226, 0.97221, 0.95000, 0.90381, 0.76206, 0.47631, 0, 0],
    "martin-ruiz": [1, 0.99747, 0.98390, 0.95791, 0.88377, 0.66348, 0.42081, 0, 0],
}


@pytest.mark.parametrize("model", BEAM)
def test_beam_modifiers(model):
    found = incidence_modifiers(ANGLES, 30.0, model).beam
    assert found == pytest.approx(BEAM[model], abs=2e-5)
    fine = incidence_modifiers(np.linspace(0.0, 90.0, 181), 30.0, model).beam
    assert (np.diff(fine) <= 1e-12).all()
    assert ((fine >= 0.0) & (fine <= 1.0)).all()


# Fixed points read in pvlib's own tests.
@pytest.mark.parametrize(
    ("model", "angle", "value"),
    [
        ("fresnel", 22.5, 0.99926198),
        ("fresnel", 45.0, 0.98797788),
        ("fresnel", 67.5, 0.8893998),
        ("ashrae", 22.5, 0.99588039),
        ("ashrae", 45.0, 0.97928932),
        ("ashrae", 67.5, 0.9193437),
        ("martin-ruiz", 45.0, 0.98986965),
    ],
)
def test_fixed_points_of_the_modifiers(model, angle, value):
    found = incidence_modifiers(np.array([angle]), 30.0, model).beam[0]
    assert found == pytest.approx(value, abs=1e-7)


# Diffuse modifiers of the Fresnel law by tilt: sky, ground (Marion 2017, computed).
@pytest.mark.parametrize(
    ("tilt", "sky", "ground"),
    [(20.0, 0.95392, 0.63871), (40.0, 0.95943, 0.83108), (90.0, 0.94440, 0.94440)],
)
def test_diffuse_modifiers(tilt, sky, ground):
    found = incidence_modifiers(np.zeros(1), tilt, "fresnel")
    assert found.sky == pytest.approx(sky, abs=2e-4)
    assert found.ground == pytest.approx(ground, abs=2e-4)


def test_effective_irradiance_adds_its_parts():
    seen = on_plane("isotropic", 30.0)
    modifiers = incidence_modifiers(seen.aoi, 30.0, "fresnel")
    found = effective_irradiance(seen, modifiers)
    expected = (
        seen.poa_direct * modifiers.beam
        + seen.poa_sky_diffuse * modifiers.sky
        + seen.poa_ground_diffuse * modifiers.ground
    )
    assert found == pytest.approx(expected, rel=1e-14)
    assert found[0] < seen.poa_global[0]


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: on_plane("perez", 30.0), "Did you mean 'perez-1990'?"),
        (lambda: incidence_modifiers(np.zeros(1), 30.0, "fresnell"), "Did you mean 'fresnel'?"),
        (lambda: decompose(np.ones(1), sun_at(40.0), "erb"), "Did you mean 'erbs'?"),
    ],
)
def test_an_unknown_word_is_refused_with_the_nearest(call, sentence):
    with pytest.raises(InputError, match=r"model") as refused:
        call()
    assert sentence in str(refused.value)
