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
from yieldkit.config.site.site import Site, Wiring
from yieldkit.physics.irradiance.sun import Sun
from yieldkit.study.simulation.prepare import Prepared, prepare_cells, weather_sun
from yieldkit.study.uncertainty.drawn_site import (
    drawn_bypass,
    drawn_cells,
    drawn_conversion,
    drawn_site,
)
from yieldkit.study.uncertainty.drawn_weather import Drawable, drawable
from yieldkit.study.uncertainty.module_sorting import sorted_modules
from yieldkit.study.uncertainty.unknowns import (
    UNKNOWNS,
    Drawn,
    Unknown,
    unknowns,
)
from yieldkit.study.wiring_energies.energies import wiring_energies

DRAWS = 64
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
    site = drawn_site(prepared.site, row)
    variant = prepare_cells(site, weather.drawn(row, seed), prepared.period, sun)
    variant = drawn_conversion(drawn_cells(variant, row), row)
    laid = sorted_modules(variant, wirings, _SORTING.spread, row[_SORTING.name], seed)
    return wiring_energies(*laid, drawn_bypass(row))


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
