"""Every permitted wiring ranked by its yield, with the work shared between them."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.config.site import Site, TrackerStrings, Wiring
from yieldkit.design.candidates import MOST, Possible, possible_wirings
from yieldkit.design.grid_profiles import grid_rules
from yieldkit.design.mounting import inlet_offset_k
from yieldkit.design.wishes import Wishes
from yieldkit.physics import feed, grid, heat, inverter
from yieldkit.physics.inverter import ListedConversion
from yieldkit.study.alternating import conversion_curve, fixed_limits, site_network
from yieldkit.study.arrangement_tables import WORKERS, ArrangementTables, Progress
from yieldkit.study.network import network_voltage, within_step_spread
from yieldkit.study.prepare import Prepared, prepare
from yieldkit.study.simulate import simulate_prepared
from yieldkit.study.trackers import Solutions
from yieldkit.study.weather import site_weather


@dataclass(frozen=True)
class Ranking:
    """Permitted wirings from the best to the worst.

    Parameters
    ----------
    possible : Possible
        What is possible, and how to write it down.
    prepared : Prepared
        The site's wiring-free part.
    order : ndarray of int
        Positions of the candidates, best first.
    energy_kwh, held_back_kwh, capped_hours : ndarray
        Of every candidate (candidate,).
    solved_whole : int
        How many needed a solution of their own, because inputs share a limit.
    """

    possible: Possible
    prepared: Prepared
    order: np.ndarray
    energy_kwh: np.ndarray
    held_back_kwh: np.ndarray
    capped_hours: np.ndarray
    solved_whole: int

    def wiring(self, rank: int, name: str | None = None) -> Wiring:
        """Return the wiring of a rank, 0 the best."""
        candidate = self.possible.candidates[int(self.order[rank])]
        return self.possible.wiring(candidate, name or f"proposed {rank + 1}")


def propose(
    site: Site,
    wishes: Wishes | None = None,
    weather: xr.Dataset | None = None,
    most: int = MOST,
    progress: Progress | None = None,
) -> Ranking:
    """Find every permitted wiring of a site and rank them by annual energy.

    Parameters
    ----------
    site : Site
        The site.
    wishes : Wishes, optional
        What is asked of the wirings.
    weather : Dataset, optional
        Canonical weather; read from the site's own source if left out.
    most : int
        Bound on the number of wirings.
    progress : callable, optional
        Called with a word, how many are done and how many there are.

    Returns
    -------
    Ranking
        Exact: the energy of each is what `simulate` gives for it.

    Raises
    ------
    InputError
        As `possible_wirings`.
    """
    possible = possible_wirings(site, wishes, most)
    prepared = prepare(site, site_weather(site) if weather is None else weather)
    return rank(possible, prepared, progress)


def rank(
    possible: Possible,
    prepared: Prepared,
    progress: Progress | None = None,
) -> Ranking:
    """Rank wirings on a prepared site.

    Parameters
    ----------
    possible : Possible
        The wirings.
    prepared : Prepared
        What all of them share.
    progress : callable, optional
        As for `propose`.
    """
    tell = progress or (lambda _word, _done, _all: None)
    curve = conversion_curve(prepared.site.inverter)
    lit = np.flatnonzero((prepared.conditions.photocurrent > 0.0).any(axis=1))
    tables = ArrangementTables(possible, prepared, curve, lit)
    tables.solve(tell)
    wirings = tables.rows(possible.candidates)
    behind = _behind(prepared, curve, lit)
    dark = _dark_energy(
        prepared, curve, np.setdiff1d(np.arange(prepared.weather.sizes["time"]), lit)
    )
    found = _delivered(wirings, tables, behind, curve, prepared, tell)
    hours = prepared.interval_s / 3600.0
    energy = (found[:, 0] + dark) * hours / 1000.0
    held_back, capped = found[:, 1] * hours / 1000.0, found[:, 2] * hours
    whole = np.flatnonzero(found[:, 3] > 0.0) if not _couples(prepared) else np.arange(len(energy))
    solutions = Solutions()
    for done, place in enumerate(whole):
        tell("wirings solved whole", done, whole.size)
        result = simulate_prepared(
            prepared, possible.wiring(possible.candidates[place], "candidate"), solutions
        )
        energy[place] = result.attrs["energy_kwh"]
        held_back[place] = float(result["loss_budget"].sel(loss_step="AC limit"))
        capped[place] = result.attrs["clipped_hours"]
    order = np.argsort(-energy, kind="stable")
    return Ranking(possible, prepared, order, energy, held_back, capped, int(whole.size))


def _couples(prepared: Prepared) -> bool:
    """Tell whether the site has limits that couple its inputs hour by hour."""
    chosen = prepared.site.inverter
    by_voltage = any(point.dc_voltage_v is not None for point in chosen.derating)
    lower_top = any(mppt.max_operating_voltage_v is not None for mppt in chosen.mppts)
    return bool(chosen.max_dc_power_pairs) or by_voltage or lower_top


def _behind(
    prepared: Prepared, curve: inverter.ConversionCurve | ListedConversion, steps: np.ndarray
) -> feed.Behind:
    """Return what lies behind the trackers, at some steps."""
    site = prepared.site
    chosen = site.inverter
    outside = network_voltage(prepared)
    network = site_network(chosen, site.grid)
    temp_inlet = heat.inlet_temperature(
        prepared.weather["temp_air"].to_numpy(), inlet_offset_k(site)[0]
    )
    fixed, derated = fixed_limits(prepared, np.zeros(outside.size), temp_inlet, outside)
    nothing = np.zeros_like(outside)
    alone = grid.terminals(nothing, outside, site.grid.load_w, network).voltage
    spread_v = within_step_spread(site.grid)
    nodes, weights = (np.zeros(1), np.ones(1))
    if spread_v > 0.0:
        nodes, weights = np.polynomial.hermite_e.hermegauss(31)
    listed = isinstance(curve, ListedConversion)
    return feed.Behind(
        kind=feed.LISTED if listed else feed.LOSSES,
        nominal=curve.pso if listed else curve.p_nominal,
        dc_limit=np.inf if chosen.max_dc_power_w is None else chosen.max_dc_power_w,
        cap=np.minimum(fixed.power, derated)[steps],
        auxiliary=chosen.auxiliary_power_w,
        night=chosen.night_power_w,
        outside=outside[steps],
        alone=alone[steps],
        load=site.grid.load_w,
        network=feed.network_numbers(network),
        rules=feed.rule_numbers(grid_rules(site.grid.profile, chosen.ac.nominal_voltage_v)),
        spread=np.column_stack([spread_v * nodes, weights / weights.sum()]),
        availability=site.grid.availability_percent / 100.0,
    )


def _dark_energy(
    prepared: Prepared, curve: inverter.ConversionCurve | ListedConversion, dark: np.ndarray
) -> float:
    """Return the summed power of the dark steps, the same for every wiring [W]."""
    found = np.zeros((1, 4))
    power, parts = np.zeros((1, dark.size)), np.zeros((1, 3, dark.size))
    none = np.array([[-1]])
    behind = _behind(prepared, curve, dark)
    feed.delivered(0, 1, none, power, parts, behind, 0.0, 1.0, found)
    return float(found[0, 0])


def _delivered(
    wirings: np.ndarray,
    tables: ArrangementTables,
    behind: feed.Behind,
    curve: inverter.ConversionCurve | ListedConversion,
    prepared: Prepared,
    tell: Progress,
) -> np.ndarray:
    """Return what the kernel finds for every wiring, in blocks on two threads."""
    found = np.zeros((wirings.shape[0], 4))
    paco = curve.paco if isinstance(curve, ListedConversion) else 0.0
    nominal = prepared.site.inverter.ac.nominal_power_w
    edges = np.unique(np.linspace(0, wirings.shape[0], 8 * WORKERS + 1).astype(int))

    def block(begin: int, end: int) -> int:
        feed.delivered(
            begin, end, wirings, tables.power, tables.parts, behind, paco, nominal, found
        )
        return end - begin

    done = 0
    with ThreadPoolExecutor(WORKERS) as pool:
        for number in pool.map(block, edges[:-1], edges[1:]):
            done += number
            tell("wirings", done, wirings.shape[0])
    return found


def ranking_table(ranking: Ranking, top: int = 20) -> pd.DataFrame:
    """Return the best wirings with what counts beside their yield.

    Parameters
    ----------
    ranking : Ranking
        From `propose`.
    top : int
        How many.
    """
    site = ranking.possible.site
    drawn = sum(plane.modules for plane in site.planes)
    best = float(ranking.energy_kwh.max())
    rows = []
    for place in range(min(top, ranking.order.size)):
        number = int(ranking.order[place])
        wiring = ranking.wiring(place)
        strings = [string for tracker in wiring.trackers for string in tracker.strings]
        wired = sum(group.modules for string in strings for group in string.groups)
        lengths = [string.cable.length_m for string in strings if string.cable is not None]
        rows.append(
            {
                "rank": place + 1,
                "energy_kwh": float(ranking.energy_kwh[number]),
                "difference_percent": 100.0 * (float(ranking.energy_kwh[number]) / best - 1.0),
                "strings": len(strings),
                "inputs": len(wiring.trackers),
                "cable_m": 2.0 * sum(lengths),
                "modules_left": drawn - wired,
                "clipped_kwh": float(ranking.held_back_kwh[number]),
                "wiring": wiring_words(wiring),
            }
        )
    return pd.DataFrame(rows)


def wiring_words(wiring: Wiring) -> str:
    """Return a wiring in one line: inputs with their strings."""
    return "; ".join(
        f"{tracker.mppt}: "
        + " beside ".join(_string_words(tracker, place) for place in range(len(tracker.strings)))
        for tracker in wiring.trackers
    )


def _string_words(tracker: TrackerStrings, place: int) -> str:
    groups = tracker.strings[place].groups
    return " and ".join(f"{group.modules} {group.plane}" for group in groups)
