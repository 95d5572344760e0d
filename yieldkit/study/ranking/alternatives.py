"""Alternatives to the best wiring: nothing beats them in energy, strings, cable and left out."""

from __future__ import annotations

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.design.permitted.arrangements import plane_cables, wired_string
from yieldkit.study.ranking.propose import Ranking
from yieldkit.study.several_inverters.shared_out import SharedOut


def beaten(energy: FloatArray, costs: FloatArray) -> BoolArray:
    """Tell which of many are beaten by another: no better in anything, worse in something.

    Parameters
    ----------
    energy : ndarray
        More is better (item,).
    costs : ndarray
        Less is better (item, cost).
    """
    kinds, kind = np.unique(costs, axis=0, return_inverse=True)
    kind = kind.ravel()
    best = np.full(kinds.shape[0], -np.inf)
    np.maximum.at(best, kind, energy)
    # The most energy of any kind that costs no more in anything.
    reached = np.array([best[(kinds <= own).all(axis=1)].max(initial=-np.inf) for own in kinds])
    cheaper = np.array(
        [
            best[(kinds <= own).all(axis=1) & (kinds < own).any(axis=1)].max(initial=-np.inf)
            for own in kinds
        ]
    )
    return (energy < reached[kind]) | (energy <= cheaper[kind])


def distinct_ranks(ranking: Ranking | SharedOut) -> list[int]:
    """Return ranks whose energy differs from the one before: the same strings on other inputs."""
    ordered = ranking.energy_kwh[ranking.order]
    apart = np.flatnonzero(np.abs(np.diff(ordered)) > 1e-9 * ordered[0]) + 1
    return [0, *apart.tolist()]


def alternative_ranks(ranking: Ranking | SharedOut) -> list[int]:
    """Return the ranks of the wirings that no other beats, best first.

    Parameters
    ----------
    ranking : Ranking
        From `propose`; cable lengths are the site file's, by plane.
    """
    energy = ranking.energy_kwh[ranking.order]
    # Equal but for the last digits is equal: the same strings on other inputs.
    rounded = np.round(energy / energy[0], 9)
    costs = _costs_by_wiring(ranking) if isinstance(ranking, SharedOut) else _costs(ranking)
    found = np.flatnonzero(~beaten(rounded, costs))
    _first, places = np.unique(
        np.column_stack([rounded[found], costs[found]]), axis=0, return_index=True
    )
    return sorted(int(found[place]) for place in places)


def _costs(ranking: Ranking) -> FloatArray:
    """Return strings, conductor [m] and modules left out of the ranked wirings (wiring, 3)."""
    possible = ranking.possible
    cables = plane_cables(possible.site)
    per_class = []
    for own in possible.classes:
        rows = []
        for arrangement in own.arrangements:
            strings = [wired_string(possible.site, piece, cables) for piece in arrangement.pieces]
            metres = sum(2.0 * each.cable.length_m for each in strings if each.cable is not None)
            rows.append((len(strings), metres, -sum(arrangement.usage)))
        per_class.append(np.array(rows).reshape(-1, 3))
    every = np.zeros((ranking.order.size, 3))
    for row, number in enumerate(ranking.order):
        for each_cost, chosen in zip(per_class, possible.candidates[number], strict=True):
            every[row] += each_cost[list(chosen)].sum(axis=0)
    return np.round(every, 6)


def _costs_by_wiring(ranking: SharedOut) -> FloatArray:
    """Return strings, conductor [m] and modules left out of wirings (wiring, 3)."""
    drawn = sum(plane.modules for plane in ranking.site.planes)
    rows = []
    for wiring in ranking.wirings:
        strings = [string for tracker in wiring.trackers for string in tracker.strings]
        metres = sum(2.0 * each.cable.length_m for each in strings if each.cable is not None)
        wired = sum(group.modules for string in strings for group in string.groups)
        rows.append((len(strings), metres, drawn - wired))
    return np.round(np.array(rows, dtype=float).reshape(-1, 3), 6)
