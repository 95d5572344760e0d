"""Every wiring with nothing forbidden ranked by its yield, with the work shared between them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.base.display import Card, short_name
from yieldkit.base.errors import refuse
from yieldkit.base.progress import Progress, silent
from yieldkit.config.site.display import refuse_other_than_site
from yieldkit.config.site.site import Site, WiredString, Wiring
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.design.permitted.wirings import MOST, Possible, possible_wirings
from yieldkit.study.ranking.sampled_days import Sample, measured, refuse_sampling, sampled_steps
from yieldkit.study.several_inverters.shared_out import SharedOut, share_out
from yieldkit.study.simulation.prepare import Prepared, prepare
from yieldkit.study.simulation.unsolved import without_steps
from yieldkit.study.simulation.weather import site_weather
from yieldkit.study.wiring_energies.arrangement_tables import candidate_rows, solve_arrangements
from yieldkit.study.wiring_energies.energies import (
    WiringYields,
    delivered_sums,
    lit_steps,
    shares_limits,
    simulate_whole,
    yields_of,
)

_MOST_SHOWN = 5


@dataclass(frozen=True)
class Ranking:
    """Wirings with nothing forbidden from the best to the worst.

    Parameters
    ----------
    possible : Possible
        What is possible, and how to write it down.
    prepared : Prepared
        The site's wiring-free part.
    order : ndarray of int
        Positions of the candidates, best first: all of them, unless the work was stopped.
    energy_kwh, held_back_kwh, capped_hours : ndarray
        Of every candidate (candidate,); nan where the work was stopped before it.
    solved_whole : int
        How many needed a solution of their own, because inputs share a limit.
    sample : Sample, optional
        On which days they were ranked, and how far off that is; None if on every hour.
    """

    possible: Possible
    prepared: Prepared
    order: IntArray
    energy_kwh: FloatArray
    held_back_kwh: FloatArray
    capped_hours: FloatArray
    solved_whole: int
    sample: Sample | None = None
    shares_out: bool = False
    """There is one inverter."""

    def __repr__(self) -> str:
        return self._card().text()

    def _repr_html_(self) -> str:
        return self._card().html()

    def _card(self) -> Card:
        ranked, found = self.order.size, len(self.possible.candidates)
        rows = []
        for place, number in enumerate(self.order[:_MOST_SHOWN]):
            strings = "; ".join(
                f"{tracker.mppt}: {' beside '.join(_lengths(tracker.strings))}"
                for tracker in self.wiring(place).trackers
            )
            energy = f"{self.energy_kwh[number]:,.0f} kWh {self.prepared.period.per}"
            rows.append((f"rank {place}", f"{energy}; {strings}"))
        among = f"{ranked:,} of {found:,}" if ranked != found else f"{found:,}"
        title = f"{among} wirings of '{short_name(self.possible.site.site.name)}', best first"
        hint = "Ask it for .wiring(rank), .energy_kwh, .order, .possible."
        return Card(title, tuple(rows), hint)

    @property
    def site(self) -> Site:
        """The site."""
        return self.possible.site

    @property
    def constraints(self) -> Constraints:
        """What was asked of the wirings."""
        return self.possible.constraints

    def number_text(self) -> str:
        """Return how many wirings were ranked, of how many."""
        number, ranked = len(self.possible.candidates), self.order.size
        among = f"{number:,}" if ranked == number else f"{ranked:,} ranked of {number:,}"
        return f"{among} {'wiring' if among == '1' else 'wirings'}"

    def counted_how(self) -> str:
        """Return out of what they were counted."""
        arrangements = sum(len(own.arrangements) for own in self.possible.classes)
        return f"of {arrangements:,} different arrangements on the inputs"

    def sentences(self) -> list[str]:
        """Return sentences on the lengths allowed, and on what was dropped by which check."""
        return self.possible.sentences()

    def wiring(self, rank: int, name: str | None = None) -> Wiring:
        """Return the wiring of a rank, 0 the best; `InputError` for a rank that there isn't."""
        if not 0 <= rank < self.order.size:
            refuse("rank", f"{rank}", f"a rank from 0, the best, to {self.order.size - 1}")
        candidate = self.possible.candidates[int(self.order[rank])]
        return self.possible.wiring(candidate, name or f"proposed {rank + 1}")


def _lengths(strings: tuple[WiredString, ...]) -> list[str]:
    return [
        " and ".join(f"{group.modules} {short_name(group.plane, 16)}" for group in string.groups)
        for string in strings
    ]


def refuse_days(site: Site, every_days: int) -> None:
    """Refuse to rank on some days only where the search solves few wirings anyway.

    Raises
    ------
    InputError
        For a site of several inverters.
    """
    if site.several_inverters:
        refuse(
            "every_days",
            f"{every_days}, on a site of several inverters",
            "every hour: few wirings are solved there, all others are bounded",
            remedy="Leave it out.",
        )


def propose(
    site: Site,
    constraints: Constraints | None = None,
    weather: xr.Dataset | None = None,
    most: int = MOST,
    progress: Progress | None = None,
    every_days: int = 1,
) -> Ranking | SharedOut:
    """Find every wiring of a site that no limit forbids and rank them by energy.

    Parameters
    ----------
    site : Site
        The site.
    constraints : Constraints, optional
        What is asked of the wirings.
    weather : Dataset, optional
        Canonical weather; read from the site's own source if left out.
    most : int
        Bound on the number of wirings; of several inverters, on those of one inverter that are
        looked at at once.
    progress : callable, optional
        Called with a word, how many are done and how many there are (0 while they are looked
        for); a true answer stops the work, and the wirings ranked so far are kept.
    every_days : int
        Rank on every so many days only; 1 takes every hour.

    Returns
    -------
    Ranking or SharedOut
        Exact: the energy of each is what `simulate` gives for it; without obstacles and on the
        steps' means, of which `weigh` tells what both do to the best. On some days only: an
        estimate with its measured error. Of several inverters: the best of every way to share the
        planes out, and what no other can exceed.

    Raises
    ------
    InputError
        As `possible_wirings`; for what is no site; for sampling where inputs share a limit.
    """
    refuse_other_than_site(site, Site)
    if every_days != 1:
        refuse_days(site, every_days)
        refuse_sampling(site, every_days)
    if site.several_inverters:
        return share_out(site, constraints, weather, most, progress)
    possible = possible_wirings(site, constraints, most, progress)
    prepared = prepare(site, site_weather(site) if weather is None else weather)
    return rank(possible, prepared, progress, every_days)


def rank(
    possible: Possible,
    prepared: Prepared,
    progress: Progress | None = None,
    every_days: int = 1,
) -> Ranking:
    """Rank wirings on a prepared site, as if nothing stood in its modules' light.

    Parameters
    ----------
    possible : Possible
        The wirings.
    prepared : Prepared
        What all of them share.
    progress : callable, optional
        As for `propose`.
    every_days : int
        As for `propose`.
    """
    tell = progress or silent
    bare = replace(prepared, shaded=(), within=None)
    places, yields, lacking = _by_tables(possible, bare, tell, every_days)
    if lacking.any():
        return rank(possible, without_steps(prepared, lacking), progress, every_days)

    def wiring(position: int) -> Wiring:
        return possible.wiring(possible.candidates[int(places[position])], "candidate")

    known, lacking = simulate_whole(bare, yields, wiring, tell)
    if lacking.any():
        return rank(possible, without_steps(prepared, lacking), progress, every_days)
    places, yields = places[:known], yields.first(known)
    sample = None
    if every_days != 1:
        sample = measured(bare, yields, wiring, every_days)
    columns = np.full((3, len(possible.candidates)), np.nan)
    columns[:, places] = yields[:3]
    energy_kwh, held_back_kwh, capped_hours = columns
    return Ranking(
        possible,
        prepared,
        places[np.argsort(-yields.energy_kwh, kind="stable")],
        energy_kwh,
        held_back_kwh,
        capped_hours,
        solved_whole=int(yields.solved_whole.sum()),
        sample=sample,
    )


def _by_tables(
    possible: Possible, prepared: Prepared, tell: Progress, every_days: int
) -> tuple[IntArray, WiringYields, BoolArray]:
    """Return the candidates that the tables answer, their yields, and steps without solution."""
    curve, lit = prepared.conversion, lit_steps(prepared)
    lacking = np.zeros(prepared.present.shape, dtype=bool)
    if shares_limits(prepared.site):
        found = np.ones((len(possible.candidates), 4))
        return np.arange(found.shape[0]), yields_of(prepared, found, lit), lacking
    steps = sampled_steps(prepared, lit, every_days)
    arrangements, wirings = candidate_rows(possible)
    tables, solved = solve_arrangements(prepared, curve, steps, arrangements, tell)
    places = np.flatnonzero((wirings < solved).all(axis=1))
    # Who has stopped the arrangements wants what they answer, not to stop again at once.
    going = tell if solved == len(arrangements) else silent
    found, done = delivered_sums(prepared, wirings[places], tables, steps, going)
    weight = lit.size / max(steps.size, 1)
    lacking[steps[tables.unsolved]] = True
    return places[:done], yields_of(prepared, found[:done], lit, weight), lacking
