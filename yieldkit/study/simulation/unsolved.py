"""Steps whose circuit the solver could not solve: left out like a gap, counted and told."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import xarray as xr

from yieldkit.base.arrays import BoolArray
from yieldkit.base.progress import Progress
from yieldkit.config.site.site import Site, TrackerStrings, Wiring
from yieldkit.physics.circuit.api import CellConditions
from yieldkit.study.simulation.in_light import with_places
from yieldkit.study.simulation.period import WEATHER_STATE
from yieldkit.study.simulation.prepare import Prepared, prepare
from yieldkit.study.simulation.threads import WORKERS
from yieldkit.study.simulation.trackers import Solutions, TrackerStates, solve_tracker

_SHARED_STEPS = 4000
"""From so many steps on a circuit takes long enough for a thread of its own."""


def solvable(
    prepared: Prepared,
    wirings: Sequence[Wiring],
    solutions: Solutions,
    progress: Progress,
) -> tuple[Prepared, Solutions]:
    """Leave out the steps that can't be solved for one of the wirings, the same for all of them.

    Parameters
    ----------
    prepared : Prepared
        What the wirings share.
    wirings : sequence of Wiring
        The wirings to be simulated.
    solutions : Solutions
        Circuits solved so far; filled on the way.
    progress : callable
        Called with "wirings", how many are solved and how many there are.

    Returns
    -------
    tuple of (Prepared, Solutions)
        The same two where every step is solved. Else a site whose weather lacks those steps as
        if they were a gap, with their number and a remark, and its own solutions.
    """
    lacking = _unsolved(prepared, wirings, solutions, progress)
    while lacking.any():
        prepared = without_steps(prepared, lacking)
        solutions = Solutions()
        lacking = _unsolved(prepared, wirings, solutions, progress)
    return prepared, solutions


def _unsolved(
    prepared: Prepared,
    wirings: Sequence[Wiring],
    solutions: Solutions,
    progress: Progress,
) -> BoolArray:
    """Return the steps with weather at which some tracker of a wiring has no solution (time,)."""
    inputs, name_of = prepared.site.inputs(), prepared.site.input_name
    lacking = np.zeros(prepared.present.shape, dtype=bool)

    def solved(tracker: TrackerStrings) -> TrackerStates:
        return solve_tracker(prepared, tracker, inputs[name_of(tracker)], solutions)

    with ThreadPoolExecutor(WORKERS if lacking.size >= _SHARED_STEPS else 1) as pool:
        wirings = [with_places(prepared, each) for each in wirings]
        distinct = dict.fromkeys(tracker for each in wirings for tracker in each.trackers)
        found = {tracker: pool.submit(solved, tracker) for tracker in distinct}
        try:
            for done, wiring in enumerate(wirings):
                if progress("wirings", done, len(wirings)):
                    raise KeyboardInterrupt(f"stopped: {done} wirings")
                for tracker in wiring.trackers:
                    lacking |= found[tracker].result().unsolved
        finally:
            pool.shutdown(cancel_futures=True)
    progress("wirings", len(wirings), len(wirings))
    return lacking & prepared.present


def prepared_like(result: xr.Dataset, site: Site, weather: xr.Dataset) -> Prepared:
    """Return what the wirings of a site shared when one of them was simulated.

    Parameters
    ----------
    result : Dataset
        What `simulate` returned.
    site : Site
        The site.
    weather : Dataset
        Its canonical weather.

    Returns
    -------
    Prepared
        Without the steps that were left out then because they had no solution.
    """
    prepared = prepare(site, weather)
    missing = result["weather_state"].to_numpy() == WEATHER_STATE["missing"]
    lacking = missing & prepared.present
    return without_steps(prepared, lacking) if lacking.any() else prepared


def darkened(prepared: Prepared, lacking: BoolArray) -> Prepared:
    """Return a site whose conditions are missing at some steps, as if there were no weather.

    For sites that differ from what `prepare` makes, such as those of a draw.

    Parameters
    ----------
    prepared : Prepared
        What all wirings share.
    lacking : ndarray of bool
        The steps to leave out (time,).
    """
    missing = lacking[:, None]
    return replace(
        prepared,
        conditions=CellConditions(
            *(np.where(missing, np.nan, part) for part in prepared.conditions)
        ),
        shaded=tuple(None if own is None else own.without(lacking) for own in prepared.shaded),
        present=prepared.present & ~lacking,
        unsolved_steps=prepared.unsolved_steps + int(lacking.sum()),
    )


def without_steps(prepared: Prepared, lacking: BoolArray) -> Prepared:
    """Return a site whose weather lacks steps that have no solution, with a remark on them.

    Parameters
    ----------
    prepared : Prepared
        What all wirings share.
    lacking : ndarray of bool
        The steps to leave out (time,).
    """
    number = prepared.unsolved_steps + int(lacking.sum())
    ghi = prepared.weather["ghi"]
    gap = ghi.copy(data=np.where(lacking, np.nan, ghi.to_numpy()))
    left = prepare(prepared.site, prepared.weather.assign(ghi=gap))
    steps = "1 step" if number == 1 else f"{number:,} steps"
    said = (
        f"Caution: no solution was found for the circuits of {steps}: left out of every figure "
        "like steps without weather, for every wiring compared."
    )
    return replace(
        left,
        unsolved_steps=number,
        remarks=(said, *left.remarks),
        assumptions=(said, *left.assumptions),
    )
