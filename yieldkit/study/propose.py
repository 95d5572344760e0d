"""Every permitted wiring ranked by its yield, with the work shared between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr

from yieldkit.config.site import Site, Wiring
from yieldkit.design.candidates import MOST, Possible, possible_wirings
from yieldkit.design.wishes import Wishes
from yieldkit.study.alternating import conversion_curve
from yieldkit.study.arrangement_tables import Progress, candidate_rows, solve_arrangements
from yieldkit.study.energies import behind_trackers, couples, dark_power, delivered_power
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
    hung, wirings = candidate_rows(possible)
    tables = solve_arrangements(prepared, curve, lit, hung, tell)
    behind = behind_trackers(prepared, curve, lit)
    dark = dark_power(prepared, curve, np.setdiff1d(np.arange(prepared.weather.sizes["time"]), lit))
    found = delivered_power(wirings, tables, behind, curve, prepared, tell)
    hours = prepared.interval_s / 3600.0
    energy = (found[:, 0] + dark) * hours / 1000.0
    held_back, capped = found[:, 1] * hours / 1000.0, found[:, 2] * hours
    whole = np.flatnonzero(found[:, 3] > 0.0) if not couples(prepared) else np.arange(len(energy))
    solutions = Solutions()
    for done, place in enumerate(whole, start=1):
        result = simulate_prepared(
            prepared, possible.wiring(possible.candidates[place], "candidate"), solutions
        )
        energy[place] = result.attrs["energy_kwh"]
        held_back[place] = float(result["loss_budget"].sel(loss_step="AC limit"))
        capped[place] = result.attrs["clipped_hours"]
        tell("wirings solved whole", done, whole.size)
    order = np.argsort(-energy, kind="stable")
    return Ranking(possible, prepared, order, energy, held_back, capped, int(whole.size))
