"""What to tell of a ranking: the best few, what they cost beside energy, and what is settled."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import pandas as pd

from yieldkit.base.errors import refuse
from yieldkit.base.progress import Progress
from yieldkit.config.site.site import TrackerStrings, Wiring
from yieldkit.design.checks.limits import check
from yieldkit.design.checks.permission import FORBIDDEN, permission
from yieldkit.design.roof.layout import StringRun, laid_wiring, string_layout
from yieldkit.study.ranking.alternatives import alternative_ranks, beaten, distinct_ranks
from yieldkit.study.ranking.in_shadow import (
    OF_EACH_SPLIT,
    order_in_minutes,
    order_sentence,
    ranks_in_shadow,
)
from yieldkit.study.ranking.propose import Ranking
from yieldkit.study.ranking.rows import differences, wiring_row
from yieldkit.study.several_inverters.plane_splits import split_sentence
from yieldkit.study.several_inverters.shared_out import SharedOut
from yieldkit.study.simulation.in_light import with_places
from yieldkit.study.simulation.snow import snow_step_by_step
from yieldkit.study.uncertainty.draws import DRAWS, draw_energies
from yieldkit.study.uncertainty.unknowns import Drawn
from yieldkit.study.uncertainty.verdict import Judgement, judge
from yieldkit.study.wiring_energies.energies import wiring_yields

_BEST, _ALTERNATIVE, _OWN = "proposed", "alternative", "own"
_MOST_ALTERNATIVES = 6
_MOST_OWN_WEIGHED = 12
"""Most of the site's own wirings weighed against the best: each costs its share of every draw."""
_LOOKED_AT = 200
"""Most ranks looked at for some that no check of the whole wiring forbids."""
_FEWEST_DRAWS = 8
"""With fewer draws left after a stop nothing is said of differences."""


@dataclass(frozen=True)
class Proposal:
    """A ranking weighed against what nobody knows, and against the site's own wirings.

    Parameters
    ----------
    ranking : Ranking
        All wirings with nothing forbidden.
    best : tuple of Wiring
        The best of them, the same strings on other inputs left out, and behind them those that
        yield less but that nothing beats; where the modules' places are known, with the cables
        that their layout needs, and on planes that something shades with their places.
    layouts : tuple
        For each of these where its strings lie, None where that isn't known.
    table : DataFrame
        The best of them and the site's own, with what counts beside the yield.
    judgements : tuple of Judgement
        The best against the next and against each of the site's own that is not forbidden.
    drawn : Drawn, optional
        The draws behind the judgements.
    shadow : str
        What shadow, snow or the light's fluctuation do to the order; empty where none is looked
        at.
    """

    ranking: Ranking | SharedOut
    best: tuple[Wiring, ...]
    layouts: tuple[tuple[StringRun, ...] | None, ...]
    table: pd.DataFrame
    judgements: tuple[Judgement, ...]
    drawn: Drawn | None = None
    shadow: str = ""

    @property
    def forbidden(self) -> bool:
        """Whether even the best is not permitted, for a reason that no wiring escapes."""
        return bool(self.table["permission"].iloc[0] == FORBIDDEN)

    def cable_note(self) -> str:
        """Return with which cables the energies are, and why `compare` may give others."""
        if self.layouts[0] is None:
            return "Cables have the lengths of the site file, by plane."
        return (
            "Cables have the lengths that the strings' places on the roof need, your wirings' as "
            "well; `yieldkit compare` takes those of the site file, so that its energies of your "
            "wirings differ a little."
        )

    def answer(self) -> str:
        """Return the answer in words."""
        best = self.table.iloc[0]
        among = self.ranking.number_text()
        per = self.ranking.prepared.period.per
        if self.ranking.sample is not None:
            per += f" (ranked on one day in {self.ranking.sample.every_days})"
        most = f"this yields most, {best['energy_kwh']:,.0f} kWh {per}: {best['wiring']}."
        if isinstance(self.ranking, SharedOut):
            split = split_sentence(self.ranking.site, self.best[0])
            most = (
                f"this way to share the planes out yields most, {best['energy_kwh']:,.0f} kWh "
                f"{per}: {split}."
            )
        if self.forbidden:
            return (
                f"Every wiring found is {best['permission_sentence']}. But for that, of {among} "
                f"{most}"
            )
        called = f"{best['called'][0].upper()}{best['called'][1:]}"
        return f"Of {among} with nothing forbidden {most} {called}. {self.shadow}".rstrip()


def weigh(
    ranking: Ranking | SharedOut,
    top: int = 10,
    draws: int = DRAWS,
    progress: Progress | None = None,
) -> Proposal:
    """Weigh the best wirings of a ranking.

    Parameters
    ----------
    ranking : Ranking
        From `propose`.
    top : int
        How many to show.
    draws : int
        Draws for the question whether a difference is real; none if 0.
    progress : callable, optional
        Called with a word, how many are done and how many there are; a true answer stops the
        draws, and those made so far are kept.

    Returns
    -------
    Proposal
        The best with their layouts, a table, and what the draws say of the differences.

    Raises
    ------
    InputError
        As `refuse_counts`.
    """
    refuse_counts(top, draws)
    shown, shadow = _shown(ranking, top)
    table = proposal_table(ranking, shown)
    proposed = [each for each in shown if each.kind != _OWN]
    best = tuple(each.wiring for each in proposed)
    layouts = tuple(each.layout for each in proposed)
    unweighed = Proposal(ranking, best, layouts, table, (), shadow=shadow)
    if draws == 0:
        return unweighed
    wirings = [each.wiring for each in shown if each.kind == _BEST][:3]
    own = [place for place, each in enumerate(shown) if each.kind == _OWN]
    own.sort(key=lambda place: -shown[place].energy_kwh)
    free = [place for place in own if table["permission"][place] != FORBIDDEN]
    wirings += [shown[place].wiring for place in free[:_MOST_OWN_WEIGHED]]
    drawn = draw_energies(ranking.prepared, wirings, draws, progress=progress)
    if drawn.energy_kwh.shape[0] < min(draws, _FEWEST_DRAWS):
        return unweighed
    judgements = tuple(judge(drawn, wirings[0].name, other.name) for other in wirings[1:])
    return replace(unweighed, judgements=judgements, drawn=drawn)


def refuse_counts(top: int, draws: int) -> None:
    """Refuse numbers of wirings to show and of draws that make no sense.

    Parameters
    ----------
    top, draws : int
        As for `weigh`.

    Raises
    ------
    InputError
        For fewer than one wiring, or fewer than no draws.
    """
    if top < 1:
        refuse("wirings to show", f"{top}", "at least 1")
    if draws < 0:
        refuse("draws", f"{draws}", "0 for none, or more", remedy="64 is usual.")


class _Shown(NamedTuple):
    """A wiring of the table, with the cables its layout needs where that is known."""

    kind: str
    wiring: Wiring
    layout: tuple[StringRun, ...] | None
    energy_kwh: float
    held_back_kwh: float


def _shown(ranking: Ranking | SharedOut, top: int) -> tuple[list[_Shown], str]:
    """Return the best, the alternatives and the site's own wirings, the former numbered best first.

    Where the modules' places are known all of them get the cables of their layout, so that they
    are measured alike. In shadow more are simulated than shown; what that does to their order is
    told.
    """
    site, shaded = ranking.prepared.site, bool(ranking.prepared.shaded)
    looked_at = ranks_in_shadow(ranking) if shaded else distinct_ranks(ranking)
    most = max(top, OF_EACH_SPLIT) if ranking.prepared.within is not None else top
    ranks = _with_nothing_forbidden(ranking, looked_at, len(looked_at) if shaded else most)
    others = [rank for rank in alternative_ranks(ranking) if rank > ranks[-1]]
    fewer = _with_nothing_forbidden(ranking, others, _MOST_ALTERNATIVES)
    kinds = [_BEST] * len(ranks) + [_ALTERNATIVE] * len(fewer) + [_OWN] * len(site.wirings)
    drawn = [*(ranking.wiring(rank) for rank in (*ranks, *fewer)), *site.wirings]
    drawn = [with_places(ranking.prepared, wiring) for wiring in drawn]
    layouts = [string_layout(site, wiring) for wiring in drawn]
    fixed = ranking.constraints.fixed
    laid = [
        wiring if layout is None else _laid(wiring, layout, fixed)
        for wiring, layout in zip(drawn, layouts, strict=True)
    ]
    yields = wiring_yields(ranking.prepared, laid)
    columns = (yields.energy_kwh.tolist(), yields.held_back_kwh.tolist())
    every = [_Shown(*row) for row in zip(kinds, laid, layouts, *columns, strict=True)]
    shadow = ""
    if shaded:
        snow = snow_step_by_step(site)
        shade = any(plane.corner_m is not None for plane in site.planes)
        energies = columns[0][: len(ranks)]
        shadow = order_sentence(ranks, energies, shade=shade or not snow, snow=snow)
    elif ranking.prepared.within is not None:
        shadow = order_in_minutes(ranks, columns[0][: len(ranks)])
    taken = {wiring.name for wiring in site.wirings}
    found = []
    for kind in (_BEST, _ALTERNATIVE):
        own = [each for each in every if each.kind == kind]
        own = sorted(own, key=_less_energy)[: top if kind == _BEST else None]
        found += [
            each._replace(
                wiring=each.wiring.model_copy(update={"name": _new_name(f"{kind} {place}", taken)})
            )
            for place, each in enumerate(own, start=1)
        ]
    own = [each for each in every if each.kind == _OWN]
    yours = [each.wiring.model_copy(update={"name": your_name(each.wiring.name)}) for each in own]
    found += [each._replace(wiring=wiring) for each, wiring in zip(own, yours, strict=True)]
    return found, shadow


def _less_energy(shown: _Shown) -> float:
    return -shown.energy_kwh


def your_name(name: str) -> str:
    """Return what a wiring of the site's own is called beside proposed ones."""
    return f"your {name}"


def _with_nothing_forbidden(
    ranking: Ranking | SharedOut, ranks: Sequence[int], most: int
) -> list[int]:
    """Return the first ranks whose whole wiring no check forbids; the first, where all are.

    The search looks at one input at a time; what only the whole wiring shows is looked at here.
    """
    site = ranking.prepared.site
    found: list[int] = []
    for rank in ranks[:_LOOKED_AT]:
        if permission(check(site, ranking.wiring(rank))).word != FORBIDDEN:
            found.append(rank)
        if len(found) == most:
            return found
    return found or list(ranks[:most])


def _laid(wiring: Wiring, layout: Sequence[StringRun], fixed: Sequence[TrackerStrings]) -> Wiring:
    """Return a wiring with the cables of its layout; strings that are laid already keep theirs."""
    kept = {tracker.input_name for tracker in wiring.trackers if tracker in fixed}
    return laid_wiring(wiring, [run for run in layout if run.mppt not in kept])


def _new_name(name: str, taken: set[str]) -> str:
    """Return a name that no wiring of the site has, as after an earlier proposal."""
    while name in taken:
        name = f"{name} (new)"
    return name


def proposal_table(ranking: Ranking | SharedOut, shown: Sequence[_Shown]) -> pd.DataFrame:
    """Return wirings with what counts beside the yield.

    Parameters
    ----------
    ranking : Ranking
        From `propose`.
    shown : sequence
        The wirings, the best first.

    Returns
    -------
    DataFrame
        Energy, difference to the best, strings, cable, margins, energy held back by the AC limit,
        what it may be called, words; `worth_choosing` where no other row is at least as good in
        energy, strings, cable and modules left out; `own` for the site's own.
    """
    site = ranking.prepared.site
    most = shown[0].energy_kwh
    rows = [
        wiring_row(site, each.wiring, each.energy_kwh, most) | {"clipped_kwh": each.held_back_kwh}
        for each in shown
    ]
    table = pd.DataFrame(rows)
    table["worth_choosing"] = ~beaten(
        table["energy_kwh"].to_numpy(),
        table[["strings", "cable_m", "modules_left"]].to_numpy(dtype=float),
    )
    first = table.iloc[0]
    table["words"] = [differences(row, first) for _, row in table.iterrows()]
    table["own"] = [each.kind == _OWN for each in shown]
    return table
