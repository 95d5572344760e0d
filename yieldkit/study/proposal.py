"""What to tell of a ranking: the best few, what they cost beside energy, and what is settled."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from yieldkit.config.site import TrackerStrings, Wiring
from yieldkit.design.findings import NOT_PERMITTED, VERDICTS, Finding
from yieldkit.design.limits import check
from yieldkit.study.energies import wiring_energies
from yieldkit.study.judgement import Judgement, judge
from yieldkit.study.propose import Ranking
from yieldkit.study.uncertainty import DRAWS, draw_energies

_COLD = "cold open-circuit voltage against the input"
_CURRENT = "short-circuit current against the input's rating"


@dataclass(frozen=True)
class Proposal:
    """A ranking weighed against what nobody knows, and against the site's own wirings.

    Parameters
    ----------
    ranking : Ranking
        All permitted wirings.
    best : tuple of Wiring
        The best of them, the same strings on other inputs left out.
    table : DataFrame
        The best of them and the site's own, with what counts beside the yield.
    judgements : tuple of Judgement
        The best against the next and against the best of the site's own.
    """

    ranking: Ranking
    best: tuple[Wiring, ...]
    table: pd.DataFrame
    judgements: tuple[Judgement, ...]

    def answer(self) -> str:
        """Return the answer in words."""
        best = self.table.iloc[0]
        number = len(self.ranking.possible.candidates)
        return (
            f"Of {number:,} permitted wirings this yields most, {best['energy_kwh']:,.0f} kWh a "
            f"year: {best['wiring']}."
        )


def weigh(
    ranking: Ranking,
    top: int = 10,
    draws: int = DRAWS,
    progress: Callable[[str, int, int], None] | None = None,
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
        Called with a word, how many are done and how many there are.
    """
    ranks = distinct_ranks(ranking)[:top]
    best = tuple(
        ranking.wiring(rank, f"proposed {place}") for place, rank in enumerate(ranks, start=1)
    )
    table = proposal_table(ranking, ranks, best)
    if draws == 0:
        return Proposal(ranking, best, table, ())
    own = [
        each
        for each in ranking.prepared.site.wirings
        if not any(f.verdict == NOT_PERMITTED for f in check(ranking.prepared.site, each))
    ]
    wirings = list(best[:3])
    if own:
        energies = wiring_energies(ranking.prepared, own)
        wirings.append(own[int(np.argmax(energies))])
    drawn = draw_energies(ranking.prepared, wirings, draws, progress=progress)
    first = wirings[0].name
    judgements = tuple(judge(drawn, first, other.name) for other in wirings[1:])
    return Proposal(ranking, best, table, judgements)


def distinct_ranks(ranking: Ranking) -> list[int]:
    """Return ranks whose energy differs from the one before: the same strings on other inputs."""
    ordered = ranking.energy_kwh[ranking.order]
    apart = np.flatnonzero(np.abs(np.diff(ordered)) > 1e-9 * ordered[0]) + 1
    return [0, *apart.tolist()]


def proposal_table(ranking: Ranking, ranks: Sequence[int], best: Sequence[Wiring]) -> pd.DataFrame:
    """Return the best wirings and the site's own, with what counts beside the yield.

    Parameters
    ----------
    ranking : Ranking
        From `propose`.
    ranks : sequence of int
        Which of the ranking.
    best : sequence of Wiring
        Those as wirings.

    Returns
    -------
    DataFrame
        Energy, difference to the best, strings, cable, margins, findings, words; `unbeaten`
        where no other row is at least as good in energy, strings, cable and modules left out.
    """
    site = ranking.prepared.site
    most = float(ranking.energy_kwh.max())
    rows = []
    for rank, wiring in zip(ranks, best, strict=True):
        number = int(ranking.order[rank])
        row = _row(ranking, wiring, float(ranking.energy_kwh[number]), most)
        rows.append(row | {"clipped_kwh": float(ranking.held_back_kwh[number])})
    for wiring, energy in zip(
        site.wirings, wiring_energies(ranking.prepared, site.wirings), strict=True
    ):
        rows.append(_row(ranking, wiring, float(energy), most) | {"clipped_kwh": np.nan})
    table = pd.DataFrame(rows)
    table["unbeaten"] = _unbeaten(table)
    first = table.iloc[0]
    table["words"] = [_words(row, first) for _, row in table.iterrows()]
    return table


def _row(ranking: Ranking, wiring: Wiring, energy: float, best: float) -> dict[str, object]:
    site = ranking.prepared.site
    findings = check(site, wiring)
    strings = [string for tracker in wiring.trackers for string in tracker.strings]
    wired = sum(group.modules for string in strings for group in string.groups)
    lengths = [string.cable.length_m for string in strings if string.cable is not None]
    worst = min((each.verdict for each in findings), key=VERDICTS.index)
    return {
        "name": wiring.name,
        "energy_kwh": energy,
        "difference_percent": 100.0 * (energy / best - 1.0),
        "strings": len(strings),
        "inputs": len(wiring.trackers),
        "cable_m": 2.0 * sum(lengths),
        "modules_left": sum(plane.modules for plane in site.planes) - wired,
        "voltage_margin_v": _least_margin(findings, _COLD),
        "current_margin_a": _least_margin(findings, _CURRENT),
        "worst_finding": worst,
        "wiring": wiring_words(wiring),
    }


def _least_margin(findings: tuple[Finding, ...], name: str) -> float:
    margins = [each.margin for each in findings if each.check == name]
    return min((margin for margin in margins if margin == margin), default=np.nan)


def _unbeaten(table: pd.DataFrame) -> np.ndarray:
    """Tell which rows no other row beats in energy, strings, cable and modules left out."""
    costs = table[["strings", "cable_m", "modules_left"]].to_numpy(dtype=float)
    values = np.column_stack([-table["energy_kwh"].to_numpy(), costs])
    return np.array(
        [not ((values <= row).all(axis=1) & (values < row).any(axis=1)).any() for row in values]
    )


def _words(row: pd.Series, best: pd.Series) -> str:
    """Say in words what a wiring gives up and saves against the best."""
    parts = []
    for column, one, several in (
        ("strings", "string", "strings"),
        ("inputs", "input", "inputs"),
        ("modules_left", "module", "modules"),
    ):
        gap = int(row[column] - best[column])
        if gap:
            noun = one if abs(gap) == 1 else several
            end = " left out" if column == "modules_left" else ""
            parts.append(f"{abs(gap)} {noun} {'more' if gap > 0 else 'fewer'}{end}")
    metres = row["cable_m"] - best["cable_m"]
    if abs(metres) >= 1.0:
        parts.append(f"{abs(metres):.0f} m of cable {'more' if metres > 0 else 'less'}")
    lost = -row["difference_percent"]
    if lost >= 0.005:
        parts.append(f"{lost:.2f} % less energy")
    return ", ".join(parts)


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
