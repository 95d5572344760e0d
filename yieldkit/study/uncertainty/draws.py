"""Wirings under the same draws of everything that nobody knows exactly."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pandas as pd
from scipy.special import ndtri
from scipy.stats import qmc

from yieldkit.base.arrays import FloatArray
from yieldkit.base.progress import Progress, silent
from yieldkit.config.models.planes import HorizonPoint, Plane
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.equipment.conversion import tracking_span
from yieldkit.physics.ac.conversion_change import EfficiencyChange, changed_conversion
from yieldkit.physics.circuit.api import Bypass, default_bypass
from yieldkit.physics.irradiance.sun import Sun
from yieldkit.study.simulation.prepare import Prepared, prepare_cells, weather_sun
from yieldkit.study.uncertainty.drawn_weather import Drawable, drawable
from yieldkit.study.uncertainty.module_sorting import sorted_modules
from yieldkit.study.uncertainty.unknowns import (
    BY_LOAD,
    BY_VOLTAGE,
    UNKNOWNS,
    Drawn,
    Unknown,
    unknowns,
)
from yieldkit.study.wiring_energies.energies import wiring_energies

DRAWS = 64
_SKIES = ("hay-davies", "reindl", "perez-1990", "perez-driesse")
# A site file may hold no lower facade and no steeper roof: draws stay inside.
_SLOPES = {
    "facade": (45.0, 90.0),
    "roof-parallel": (0.0, 75.0),
    "flat-roof-rack": (0.0, 75.0),
    "integrated": (0.0, 75.0),
}


_OPEN = tuple(HorizonPoint(azimuth_deg=at, elevation_deg=0.0) for at in (0.0, 180.0))
WORKERS = 2


_SORTING = next(each for each in UNKNOWNS if each.name == "module sorting")


def draw_energies(
    prepared: Prepared,
    wirings: Sequence[Wiring],
    draws: int = DRAWS,
    seed: int = 1,
    progress: Progress | None = None,
    workers: int = WORKERS,
) -> Drawn:
    """Simulate wirings under the same draws of everything unknown.

    Parameters
    ----------
    prepared : Prepared
        The site on its weather.
    wirings : sequence of Wiring
        The wirings.
    draws : int
        Number of draws, a power of two.
    seed : int
        Seed of the quasi-random sequence and of the weather's blocks.
    progress : callable, optional
        Called with a word, how many are done and how many there are; a true answer stops the
        work, and the draws made so far are kept.
    workers : int
        Threads that share the draws; any number gives the same.

    Returns
    -------
    Drawn
        Scrambled Sobol draws, so that the same seed gives the same numbers. Obstacles, and the
        light's fluctuation within the steps, leave each wiring the same share of its energy in
        every draw.
    """
    tell = progress or silent
    site = prepared.site
    inputs = _inputs(site, draws, seed)
    energy = np.empty((draws, len(wirings)))
    # A measured network voltage belongs to the weather's own steps.
    movable = site.grid.network_voltage.kind != "series"
    weather = drawable(prepared.weather, movable)
    sun = None if movable else weather_sun(site, prepared.weather)

    def one(number: int) -> FloatArray:
        row = {str(name): float(value) for name, value in inputs.iloc[number].items()}
        return _energies(prepared, wirings, row, seed + number, weather, sun)

    with ThreadPoolExecutor(workers) as pool:
        found = [pool.submit(one, number) for number in range(draws)]
        try:
            for number, each in enumerate(found):
                energy[number] = each.result()
                if tell("draws", number + 1, draws):
                    break
        finally:  # stopped, interrupted or failed: nobody waits for the others
            pool.shutdown(cancel_futures=True)
    energy *= _left_of_energy(prepared, wirings)
    made = number + 1
    names, per = tuple(each.name for each in wirings), prepared.period.per
    return Drawn(names, energy[:made], inputs[:made], per)


def _left_of_energy(prepared: Prepared, wirings: Sequence[Wiring]) -> FloatArray:
    """Return what obstacles and fluctuating light leave of each wiring's energy [1] (wiring,).

    It is the weather's own in every draw: what is drawn changes it far less than the energy.
    """
    if not prepared.shaded and prepared.within is None:
        return np.ones(len(wirings))
    bare = wiring_energies(replace(prepared, shaded=(), within=None), wirings)
    left: FloatArray = wiring_energies(prepared, wirings) / bare
    return left


def _energies(
    prepared: Prepared,
    wirings: Sequence[Wiring],
    row: Mapping[str, float],
    seed: int,
    weather: Drawable,
    sun: Sun | None,
) -> FloatArray:
    """Return the energies of wirings under one draw [kWh] (wiring,)."""
    site = _drawn_site(prepared.site, row)
    variant = prepare_cells(site, weather.drawn(row, seed), prepared.period, sun)
    variant = _drawn_conversion(_drawn_cells(variant, row), row)
    laid = sorted_modules(variant, wirings, _SORTING.spread, row[_SORTING.name], seed)
    return wiring_energies(*laid, _drawn_bypass(row))


def _columns(site: Site) -> list[tuple[str, Unknown]]:
    found = []
    for each in unknowns(site):
        places = [f" of {plane.name}" for plane in site.planes] if each.per_plane else [""]
        found += [(each.name + place, each) for place in places]
    return found


def _inputs(site: Site, draws: int, seed: int) -> pd.DataFrame:
    columns = _columns(site)
    sampler = qmc.Sobol(len(columns), scramble=True, rng=np.random.default_rng(seed))
    # Points are well spread in powers of two; of those the first ones are taken.
    points = sampler.random_base2(max(draws - 1, 0).bit_length())[:draws]
    uniform = np.clip(points, 1e-9, 1.0 - 1e-9)
    table = {}
    for place, (name, each) in enumerate(columns):
        if each.shape == "normal":
            table[name] = each.spread * ndtri(uniform[:, place])
        elif each.shape == "uniform":
            table[name] = each.middle + each.spread * (2.0 * uniform[:, place] - 1.0)
        else:
            table[name] = uniform[:, place]
    return pd.DataFrame(table)


def _drawn_site(site: Site, row: Mapping[str, float]) -> Site:
    """Return a site as a draw has it, inside what site files may hold and so not checked again."""
    models = {
        "transposition": _SKIES[int(row["sky model"] * len(_SKIES))],
        "isotropic_share": row["evenly bright share of the sky"] / 100.0,
    }
    changes: dict[str, object] = {
        "models": site.models.model_copy(update=models),
        "planes": tuple(_drawn_plane(site, plane, row) for plane in site.planes),
    }
    volts = site.grid.network_voltage
    if volts.kind != "series":
        moved = {"voltage_v": volts.voltage_v + row["network voltage"]}
        moved_voltage = volts.model_copy(update=moved)
        changes["grid"] = site.grid.model_copy(update={"network_voltage": moved_voltage})
    return site.model_copy(update=changes)


def _drawn_plane(site: Site, plane: Plane, row: Mapping[str, float]) -> Plane:
    """Return a plane as a draw has it: turned, tilted, soiled, hidden and cooled otherwise."""
    name = plane.name
    hidden = row[f"horizon of {name}"]
    raised = tuple(
        HorizonPoint(
            azimuth_deg=point.azimuth_deg,
            elevation_deg=_between(0.0, point.elevation_deg + hidden, 89.0),
        )
        for point in site.horizon_of(plane) or _OPEN
    )
    low, high = _SLOPES.get(plane.mounting, (0.0, 90.0))
    cooling = float(np.exp(row[f"heat loss of the cells of {name}"] / 100))
    changes = {
        "tilt_deg": _between(low, plane.tilt_deg + row[f"tilt of {name}"], high),
        "azimuth_deg": (plane.azimuth_deg + row[f"azimuth of {name}"]) % 360.0,
        "horizon": raised,
        "soiling_loss_percent": _between(
            0.0, plane.soiling_loss_percent + row[f"soiling of {name}"], 99.0
        ),
        "power_deviation_percent": plane.power_deviation_percent
        - row[f"module tolerance of {name}"],
        "heat_loss_factor": _between(0.3, plane.heat_loss_factor * cooling, 3.0),
    }
    return plane.model_copy(update=changes)


def _between(least: float, value: float, most: float) -> float:
    return float(min(max(value, least), most))


def _drawn_bypass(row: Mapping[str, float]) -> Bypass:
    """Return bypass diodes that drop more or less at every current."""
    usual = default_bypass()
    return usual._replace(n_vth=usual.n_vth * max(1.0 + row["bypass drop"] / 100.0, 0.2))


def _drawn_cells(prepared: Prepared, row: Mapping[str, float]) -> Prepared:
    """Return cells with another slope at low light: more or less shunt resistance."""
    factors = np.array(
        [np.exp(row[f"low-light slope of {plane.name}"] / 100.0) for plane in prepared.site.planes]
    )
    conditions = prepared.conditions
    return replace(
        prepared,
        conditions=conditions._replace(resistance_shunt=conditions.resistance_shunt * factors),
    )


def _drawn_conversion(prepared: Prepared, row: Mapping[str, float]) -> Prepared:
    """Return an inverter that converts a little better or worse, by voltage and by load."""
    change = EfficiencyChange(
        *(row[name] / 100.0 for name in ("inverter efficiency", BY_VOLTAGE, BY_LOAD))
    )
    changed = tuple(
        changed_conversion(conversion, change, *tracking_span(one.site.single_inverter))
        for one, conversion in zip(prepared.site.each_inverter(), prepared.conversions, strict=True)
    )
    return replace(prepared, conversions=changed)
