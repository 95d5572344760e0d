"""A year of mismatch on real weather, against two computed tables, model settings pinned.

Both tables take the typical year 723170TYA.CSV that pvlib carries, one calendar year, sun half an
hour before the label, albedo 0.2, Fresnel on the beam, 0.95 on sky and ground diffuse, and the
free-standing heat loss 25 + 6.84 v. practice.md finding 1: a 540 W module, Perez-Driesse;
check-values block 6: the reference module, Hay-Davies.
"""

from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest

from yieldkit.physics.circuit.api import (
    Bypass,
    CellConditions,
    Run,
    StringCircuit,
    group_maxima,
    operating_point,
)

pytestmark = pytest.mark.slow

BYPASS = Bypass(3.5e-8, 0.025693)
GROUPS = 3
FIRST = pvlib.ivtools.sdm.fit_desoto_batzelis(41.65, 12.965, 49.5, 13.847, 0.00526, -0.13959)
REFERENCE = {
    "alpha_sc": 0.005658,
    "a_ref": 1.59128,
    "I_L_ref": 9.45232,
    "I_o_ref": 3.2246e-10,
    "R_sh_ref": 125.798,
    "R_s": 0.297814,
}


@cache
def weather():
    """Return the typical year in one calendar year, with the sun at its mid-intervals."""
    file = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
    data, meta = pvlib.iotools.read_tmy3(file, coerce_year=1990, map_variables=True)
    sun = pvlib.solarposition.get_solarposition(
        data.index - pd.Timedelta("30min"), meta["latitude"], meta["longitude"], meta["altitude"]
    )
    return data.reset_index(drop=True), sun.reset_index(drop=True), data.index.day_of_year


def lights(plane, model):
    """Return irradiance on the plane and what the cells get of it."""
    data, sun, day = weather()
    tilt, azimuth = plane
    aoi = pvlib.irradiance.aoi(tilt, azimuth, sun.apparent_zenith, sun.azimuth)
    extra = pd.Series(pvlib.irradiance.get_extra_radiation(day))
    parts = pvlib.irradiance.get_total_irradiance(
        tilt,
        azimuth,
        sun.apparent_zenith,
        sun.azimuth,
        data.dni,
        data.ghi,
        data.dhi,
        dni_extra=extra,
        airmass=pvlib.atmosphere.get_relative_airmass(sun.apparent_zenith),
        albedo=0.2,
        model=model,
    ).fillna(0.0)
    beam = parts.poa_direct * pvlib.iam.physical(aoi).fillna(0.0)
    return parts.poa_global, beam + 0.95 * parts.poa_diffuse


@cache
def conditions(planes, model, first):
    """Return a group's conditions on each plane (time, plane)."""
    data = weather()[0]
    module = (
        {
            name: FIRST[name]
            for name in ("alpha_sc", "a_ref", "I_L_ref", "I_o_ref", "R_sh_ref", "R_s")
        }
        if first
        else REFERENCE
    )
    columns = []
    for plane in planes:
        total, effective = lights(plane, model)
        hot = pvlib.temperature.faiman(total, data.temp_air, data.wind_speed)
        with np.errstate(divide="ignore"):
            values = pvlib.pvsystem.calcparams_desoto(effective, hot, **module)
        il, i0, rs, rsh, a = (
            np.broadcast_to(np.asarray(v, dtype=float), il_shape(effective)) for v in values
        )
        columns.append((il, i0, rs / GROUPS, rsh / GROUPS, a / GROUPS))
    stacked = [np.stack(parts, axis=1) for parts in zip(*columns, strict=True)]
    lit = (stacked[0] > 1e-6).any(axis=1)
    return CellConditions(*(np.ascontiguousarray(part[lit]) for part in stacked))


def il_shape(effective):
    """Return the shape of a year."""
    return (len(effective),)


def loss_percent(where, strings):
    """Return what a tracker loses against every module alone, in percent of the year."""
    alone = group_maxima(where, BYPASS).sum(axis=0)
    total = sum(run.count * alone[run.condition] for string in strings for run in string.runs)
    return 100.0 * (1.0 - operating_point(where, strings, bypass=BYPASS).p_dc.sum() / total)


def parallel(one, other):
    """Return two strings of modules, one on each plane."""
    return tuple(StringCircuit((Run(k, GROUPS * n),)) for k, n in enumerate((one, other)))


def series(one, other):
    """Return one string over both planes."""
    return (StringCircuit((Run(0, GROUPS * one), Run(1, GROUPS * other))),)


E, W, S = (30, 90), (30, 270), (30, 180)
SE, SW = (30, 135), (30, 225)


@pytest.mark.parametrize(
    ("planes", "loss"),
    [
        ((E, W), 0.07),
        (((10, 90), (10, 270)), 0.02),
        ((SE, SW), 0.05),
        ((S, SW), 0.02),
    ],
)
def test_equal_strings_on_two_planes_lose_next_to_nothing(planes, loss):
    found = loss_percent(conditions(planes, "perez-driesse", True), parallel(10, 10))
    assert found > 0.0
    assert found == pytest.approx(loss, abs=max(0.01, 0.15 * loss))


@pytest.mark.parametrize(
    ("planes", "lengths", "loss"),
    [
        ((S, S), (10, 11), 2.1),
        ((S, S), (10, 12), 6.0),
        ((S, S), (10, 13), 10.0),
        ((S, S), (10, 15), 17.0),
        ((E, W), (10, 12), 5.8),
    ],
)
def test_unequal_strings_lose_percents(planes, lengths, loss):
    found = loss_percent(conditions(planes, "perez-driesse", True), parallel(*lengths))
    assert found == pytest.approx(loss, abs=0.1)


@pytest.mark.parametrize(
    ("planes", "counts", "loss"),
    [
        ((E, W), (5, 5), 14.8),
        ((SE, SW), (5, 5), 12.1),
        (((10, 90), (10, 270)), (5, 5), 7.6),
        ((S, E), (8, 2), 7.3),
        ((S, E), (9, 1), 4.2),
    ],
)
def test_mixed_series_strings_lose_most(planes, counts, loss):
    found = loss_percent(conditions(planes, "perez-driesse", True), series(*counts))
    assert found == pytest.approx(loss, abs=0.3)


def test_equal_planes_lose_exactly_nothing():
    where = conditions((S, S), "perez-driesse", True)
    double = operating_point(where, parallel(10, 10)).p_dc
    assert (double == 2.0 * operating_point(where, parallel(10, 10)[:1]).p_dc).all()
    assert (operating_point(where, series(5, 5)).p_dc == 0.5 * double).all()


# Reference module beside reference module (1 + 1), check-values block 6.
@pytest.mark.parametrize(
    ("planes", "loss"),
    [
        (((10, 90), (10, 270)), 0.028),
        (((20, 90), (20, 270)), 0.075),
        ((E, W), 0.100),
        (((45, 90), (45, 270)), 0.087),
        ((S, E), 0.078),
        ((S, W), 0.076),
        ((SE, SW), 0.087),
        (((90, 90), (90, 270)), 0.074),
    ],
)
def test_reference_modules_in_parallel(planes, loss):
    found = loss_percent(conditions(planes, "haydavies", False), parallel(1, 1))
    assert 0.0 < found == pytest.approx(loss, abs=max(0.01, 0.15 * loss))


@pytest.mark.parametrize(
    ("planes", "loss"), [((E, W), 13.85), (((20, 90), (20, 270)), 11.78), ((S, SW), 6.34)]
)
def test_reference_modules_in_series(planes, loss):
    found = loss_percent(conditions(planes, "haydavies", False), series(1, 1))
    assert found == pytest.approx(loss, abs=0.3)


def test_ten_beside_nine_reference_modules():
    found = loss_percent(conditions((S, S), "haydavies", False), parallel(10, 9))
    assert found == pytest.approx(2.21, abs=0.1)
