"""Would `propose` find better than the wirings compared? A quick look, with an exact answer."""

from __future__ import annotations

from typing import NamedTuple

import pandas as pd

from yieldkit.base.errors import InputError
from yieldkit.base.progress import Progress, silent
from yieldkit.config.site.site import Wiring
from yieldkit.design.checks.limits import check
from yieldkit.design.checks.permission import FORBIDDEN, permission
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.design.permitted.wirings import possible_wirings
from yieldkit.study.ranking.propose import Ranking, rank
from yieldkit.study.simulation.labels import wiring_text
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.simulation.simulate import simulate_wirings
from yieldkit.study.uncertainty.verdict import SAME_PERCENT
from yieldkit.study.wiring_energies.energies import shares_limits

_MOST = 20_000
_MOST_WORK = 3e7
"""Bounds on wirings, and on wirings times steps, that keep the look down to seconds."""
_EVERY_DAYS = 7
_LOOKED_AT = 20


class Better(NamedTuple):
    """What a look at all wirings says of the best one compared.

    Parameters
    ----------
    against : str
        The best of the wirings compared.
    looked_at : int
        How many wirings were looked at; 0 where none could be.
    wiring : Wiring, optional
        One that yields more by so much that it counts.
    energy_kwh, more_kwh : float
        Its energy as `simulate` gives it, and by how much that is more [kWh].
    sentence : str
        The answer in a sentence.
    """

    against: str
    looked_at: int
    wiring: Wiring | None
    energy_kwh: float
    more_kwh: float
    sentence: str


def look_for_better(
    prepared: Prepared, best: str | None, table: pd.DataFrame, progress: Progress | None = None
) -> Better:
    """Look at every wiring that leaves out no more modules than the best one compared.

    Parameters
    ----------
    prepared : Prepared
        What the wirings compared share.
    best : str or None
        Name of the best of them, None where all are forbidden.
    table : DataFrame
        Energy [kWh] and modules of each, by its name.
    progress : callable, optional
        As for `propose`.

    Returns
    -------
    Better
        The better wiring is found on one day in seven of a year and its energy then solved on all;
        where there are too many to look at in seconds, that is said.
    """
    site = prepared.site
    if site.several_inverters:
        return _unknown(
            best or "",
            "Whether there is better was not looked at: `yieldkit propose` looks for the best "
            "wirings over several inverters.",
        )
    if best is None:
        return _unknown("", "`yieldkit propose` looks for wirings with nothing forbidden.")
    ask = "ask `yieldkit propose`"
    if shares_limits(site):
        why = "the inputs share a limit, so each wiring would need a solution of its own"
        return _unknown(best, f"Whether there is better was not looked at: {why}; {ask}.")
    every_days = _EVERY_DAYS if prepared.period.is_year else 1
    steps = prepared.weather.sizes["time"] / every_days
    left_out = (table["modules"] - table["modules_wired"]).loc[best]
    left = Constraints(leave_at_most=int(left_out))
    bound = max(min(_MOST, int(_MOST_WORK / steps)), 1)
    try:
        possible = possible_wirings(site, left, bound, progress)
    except InputError:
        return _unknown(best, f"Whether there is better was not looked at here: {ask}.")
    found = _first_not_forbidden(rank(possible, prepared, progress, every_days))
    looked_at, energy = len(possible.candidates), 0.0
    if found is not None:
        energy = simulate_wirings(prepared, (found,), silent)[1][0].attrs["energy_kwh"]
    known = float(table["energy_kwh"].loc[best])
    more = energy - known
    percent = 100.0 * more / known
    if found is None or percent < SAME_PERCENT:
        sentence = (
            f"`yieldkit propose` finds {_wirings(looked_at)} with as many modules wired, and none "
            f"that yields over {SAME_PERCENT:g} % more than '{best}'."
        )
        return Better(best, looked_at, None, float("nan"), 0.0, sentence)
    sentence = (
        f"`yieldkit propose` finds better: of {looked_at:,} wirings this yields {energy:,.0f} kWh "
        f"{prepared.period.per}, {more:,.0f} kWh ({percent:.1f} %) more than '{best}': "
        f"{wiring_text(found)}."
    )
    return Better(best, looked_at, found, energy, more, sentence)


def _wirings(number: int) -> str:
    return "one wiring" if number == 1 else f"{number:,.0f} wirings"


def _unknown(best: str, sentence: str) -> Better:
    return Better(best, 0, None, float("nan"), 0.0, sentence)


def _first_not_forbidden(ranking: Ranking) -> Wiring | None:
    """Return the best wiring that no check of the whole forbids."""
    for place in range(min(_LOOKED_AT, ranking.order.size)):
        wiring = ranking.wiring(place)
        if permission(check(ranking.site, wiring)).word != FORBIDDEN:
            return wiring
    return None
