"""Wirings over several inverters ranked: the best of every way to share the planes out."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import xarray as xr

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.base.display import Card, short_name
from yieldkit.base.errors import NothingPermitted, Problem, refuse
from yieldkit.base.progress import Progress, silent
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.permitted.constraints import (
    Constraints,
    fixed_modules,
    refuse_contradictions,
)
from yieldkit.design.permitted.plane_symmetry import plane_swaps
from yieldkit.design.permitted.wiring_count import wiring_count
from yieldkit.design.permitted.wirings import length_sentences, opened_by, refuse_forbidden
from yieldkit.study.several_inverters.inverter_rows import (
    InverterKind,
    inverter_kinds,
    solved_kinds,
)
from yieldkit.study.several_inverters.plane_splits import counts_once, split_of
from yieldkit.study.several_inverters.search import Found, search
from yieldkit.study.several_inverters.shared_side import SharedSide, shared_side
from yieldkit.study.several_inverters.solved_wirings import ROOM, Wanted
from yieldkit.study.several_inverters.space import fewest_left, space_of
from yieldkit.study.simulation.prepare import Prepared, prepare
from yieldkit.study.simulation.unsolved import without_steps
from yieldkit.study.simulation.weather import site_weather
from yieldkit.study.wiring_energies.behind_meter import coupled_inputs
from yieldkit.study.wiring_energies.energies import lit_steps

SPLITS = 20
"""How many ways to share the planes out are reported."""
_MOST_SHOWN = 5


@dataclass(frozen=True)
class SharedOut:
    """The best wiring of each of the best ways to share the planes out over the inverters.

    Parameters
    ----------
    site : Site
        The site.
    constraints : Constraints
        What was asked.
    prepared : Prepared
        The site's wiring-free part.
    wirings : tuple of Wiring
        Best first; the planes are shared out otherwise in each.
    energy_kwh, held_back_kwh, capped_hours : ndarray
        Of each (wiring,).
    number : float or None
        How many wirings there are, equal inputs and inverters exchanged; None where there are too
        many to count.
    bound_kwh : float
        No wiring that shares the planes out otherwise yields more [kWh].
    solved_whole : int
        How many were solved exactly.
    said : tuple of str
        Sentences on the lengths allowed and on what was dropped by which check.
    """

    site: Site
    constraints: Constraints
    prepared: Prepared
    wirings: tuple[Wiring, ...]
    energy_kwh: FloatArray
    held_back_kwh: FloatArray
    capped_hours: FloatArray
    number: float | None
    bound_kwh: float
    solved_whole: int
    said: tuple[str, ...]

    sample: None = None
    """Every hour counts."""
    shares_out: bool = True
    """Each wiring is the best of its way to share the planes out."""

    @property
    def order(self) -> IntArray:
        """Positions, best first."""
        return np.arange(len(self.wirings))

    @property
    def proven(self) -> bool:
        """Whether no other wiring can yield more than the first."""
        return self.energy_kwh.size > 0 and self.bound_kwh <= self.energy_kwh[0] * (1.0 + 1e-9)

    def wiring(self, rank: int, name: str | None = None) -> Wiring:
        """Return the wiring of a rank, 0 the best; `InputError` for a rank that there isn't."""
        if not 0 <= rank < len(self.wirings):
            refuse("rank", f"{rank}", f"a rank from 0, the best, to {len(self.wirings) - 1}")
        return self.wirings[rank].model_copy(update={"name": name or f"proposed {rank + 1}"})

    def number_text(self) -> str:
        """Return how many wirings there are in words."""
        if self.number is None:
            return "more wirings than can be counted"
        exact = self.number < 1e15
        return f"{self.number:,.0f} wirings" if exact else f"about {self.number:.2g} wirings"

    def counted_how(self) -> str:
        """Return how they were counted."""
        return "equal inputs and equal inverters exchanged"

    def sentences(self) -> list[str]:
        """Return what was looked at, what is proven, and which lengths are allowed."""
        return [
            "Each proposed wiring is the best of its way to share the planes out over the "
            f"inverters. {self.solved_whole:,} were solved exactly, all others bounded: "
            f"{self.proof()}",
            *self.said,
        ]

    def proof(self) -> str:
        """Return how far what was found is proven to be the best."""
        if not self.energy_kwh.size:
            return "nothing was found before the stop."
        per = self.prepared.period.per
        last = float(self.energy_kwh[-1])
        if self.bound_kwh <= last * (1.0 + 1e-9):
            if len(self.wirings) < SPLITS:
                return "there is no other way to share them out."
            return (
                f"no other way to share them out yields more than {self.bound_kwh:,.0f} kWh {per}."
            )
        gap = 100.0 * (self.bound_kwh / float(self.energy_kwh[0]) - 1.0)
        if gap <= 0.0:
            return "the first is proven to be the best; those behind it may not be the next best."
        return (
            f"not all were looked at. What was not could yield up to {gap:.2f} % more than the "
            "first."
        )

    def __repr__(self) -> str:
        return self._card().text()

    def _repr_html_(self) -> str:
        return self._card().html()

    def _card(self) -> Card:
        rows = [
            (f"rank {rank}", f"{energy:,.0f} kWh {self.prepared.period.per}")
            for rank, energy in enumerate(self.energy_kwh[:_MOST_SHOWN])
        ]
        title = f"Best of {self.number_text()} of '{short_name(self.site.site.name)}'"
        return Card(title, tuple(rows), "Ask it for .wiring(rank), .energy_kwh, .bound_kwh.")


def share_out(
    site: Site,
    constraints: Constraints | None = None,
    weather: xr.Dataset | None = None,
    most: int = ROOM,
    progress: Progress | None = None,
) -> SharedOut:
    """Find the best wirings over the inverters of a site.

    Parameters
    ----------
    site : Site
        A site of several inverters.
    constraints : Constraints, optional
        What is asked of the wirings; inputs go by inverter and input.
    weather : Dataset, optional
        Canonical weather; read from the site's own source if left out.
    most : int
        Most wirings of one inverter that are looked at at once; with fewer less is proven.
    progress : callable, optional
        Told what is being done; a true answer ends the search, and what is proven so far is kept.

    Raises
    ------
    InputError
        For constraints that contradict one another or name what isn't there; for more sets of
        strings than there is room for; for inputs that share limits.
    NothingPermitted
        If limits forbid every wiring.
    """
    asked, tell = constraints or Constraints(), progress or silent
    if most < 1:
        refuse("bound on the wirings", f"{most}", "at least 1")
    if coupled_inputs(site):
        refuse(
            "inverters",
            "inputs that share limits (max_dc_power_pairs, derating by DC voltage, or "
            "max_operating_voltage_v)",
            "inverters whose inputs work by themselves: each wiring would have to be simulated",
            remedy="Write the wirings into the file and compare them.",
        )
    refuse_contradictions(site, asked)
    kinds, kind_of = inverter_kinds(site, asked, tell)
    for kind in kinds:
        refuse_forbidden(kind.site, asked._replace(fixed=kind.fixed))
    prepared = prepare(site, site_weather(site) if weather is None else weather)
    return _shared_out(prepared, asked, kinds, kind_of, most, tell)


def _shared_out(
    prepared: Prepared,
    asked: Constraints,
    kinds: tuple[InverterKind, ...],
    kind_of: IntArray,
    most: int,
    tell: Progress,
) -> SharedOut:
    shaded, within = prepared.shaded, prepared.within
    prepared = replace(prepared, shaded=(), within=None)
    lit = lit_steps(prepared)
    solved = solved_kinds(prepared, kinds, kind_of, asked, lit, tell)
    unsolved = np.any([own.unsolved for own in solved], axis=0)
    if unsolved.any():
        lacking = np.zeros(prepared.present.shape, dtype=bool)
        lacking[lit[unsolved]] = True
        return _shared_out(without_steps(prepared, lacking), asked, kinds, kind_of, most, tell)
    side = shared_side(prepared, solved, kind_of, lit)
    space = space_of(side, modules_left(prepared.site, asked), asked.leave_at_most)
    fewest = fewest_left(space)
    if fewest > asked.leave_at_most:
        _refuse_nothing(prepared.site, asked, fewest)
    swaps = plane_swaps(prepared.site, asked)
    wanted = Wanted(SPLITS, split_of(side, swaps), counts_once(side, swaps), most)
    found = search(space, wanted, tell)
    told = _told(side, asked, found, swaps != [])
    return replace(told, prepared=replace(told.prepared, shaded=shaded, within=within))


def _told(side: SharedSide, asked: Constraints, found: Found, swapped: bool) -> SharedOut:
    site = side.prepared.site
    delivered = [each for _, each in found.best]
    said = []
    for own in side.kinds:
        names = " and ".join(f"'{name}'" for name in own.kind.names)
        said += [
            f"On {names}: {text}" for text in length_sentences(own.kind.site, own.kind.classes)
        ]
    if swapped:
        said.append("Planes that agree in everything but their name count apart in that number.")
    return SharedOut(
        site=site,
        constraints=asked,
        prepared=side.prepared,
        wirings=tuple(side.wiring(wired, "proposed") for wired, _ in found.best),
        energy_kwh=np.array([each.energy_kwh for each in delivered]),
        held_back_kwh=np.array([each.held_back_kwh for each in delivered]),
        capped_hours=np.array([each.capped_hours for each in delivered]),
        number=_number(side, asked),
        bound_kwh=found.bound_kwh,
        solved_whole=found.solved,
        said=tuple(said),
    )


def _number(side: SharedSide, asked: Constraints) -> float | None:
    kinds = [own.kind for own in side.kinds]
    return wiring_count(
        [
            [np.array([each.usage for each in own.arrangements]) for own in kind.classes]
            for kind in kinds
        ],
        [[len(own.mppts) for own in kind.classes] for kind in kinds],
        [len(kind.names) for kind in kinds],
        np.array(modules_left(side.prepared.site, asked)),
        asked.leave_at_most,
    )


def modules_left(site: Site, constraints: Constraints) -> list[int]:
    """Return the modules of each plane that are to be wired (plane,)."""
    fixed = fixed_modules(constraints)
    return [plane.modules - fixed.get(plane.name, 0) for plane in site.planes]


def _refuse_nothing(site: Site, asked: Constraints, fewest: int) -> None:
    drawn = sum(plane.modules for plane in site.planes)
    raise NothingPermitted(
        (
            Problem(
                "wirings",
                f"none that is permitted with at most {asked.leave_at_most} of {drawn} modules "
                "left out",
                "at least one",
                cause="No string length fits every limit" if fewest == drawn else "",
                remedy=opened_by(fewest)
                if fewest < drawn
                else "No number of modules left out opens it: widen lengths, strings or inputs.",
            ),
        )
    )
