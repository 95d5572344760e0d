"""What our studies return, saved into a folder and loaded again."""

from __future__ import annotations

from pathlib import Path

import xarray as xr

from yieldkit.base.errors import nearest, refuse
from yieldkit.base.files import hashed_name, read_dataset
from yieldkit.config.site.site import Site
from yieldkit.study.comparison.compare import Comparison
from yieldkit.study.estimate.result import Estimate
from yieldkit.study.handover.sheet import Handover
from yieldkit.study.ranking.proposal import Proposal
from yieldkit.study.ranking.propose import Ranking
from yieldkit.study.results.comparison import COMPARISON_FILE, save_comparison, saved_comparison
from yieldkit.study.results.estimate import ESTIMATE, ESTIMATE_FILE, save_estimate, saved_estimate
from yieldkit.study.results.handover import (
    HANDOVER,
    HANDOVER_FILE,
    save_handover,
    saved_handover,
)
from yieldkit.study.results.proposal import PROPOSAL_FILE, save_proposal, saved_proposal
from yieldkit.study.results.ranking import RANKING_FILE, save_ranking, saved_ranking
from yieldkit.study.results.result import LOSSES, save_result, saved_result
from yieldkit.study.results.review import REVIEW, REVIEW_FILE, save_review, saved_review
from yieldkit.study.review.result import Review
from yieldkit.study.several_inverters.shared_out import SharedOut

COMPARISON, RANKING, PROPOSAL = "comparison", "ranking", "proposal"
"""What a folder may hold beside simulated wirings, which go by their names."""


def save(
    result: xr.Dataset | Comparison | Ranking | SharedOut | Proposal | Estimate | Handover | Review,
    folder: str | Path,
    run: str | None = None,
) -> Path:
    """Save what a study returned: `simulate`, `compare`, `propose`, `weigh`, `estimate` ...

    Parameters
    ----------
    result : Dataset, Comparison, Ranking, Proposal, Estimate, Handover or Review
        The result; a comparison's details go with it where they were asked for.
    folder : str or Path
        Where to; made if needed. What an earlier run of the same kind left there is taken away.
    run : str, optional
        The run's id, which every file bears; a new one if left out.

    Returns
    -------
    Path
        The folder, for `load`.

    Raises
    ------
    InputError
        For what is no result, or a folder that can't be written to.
    """
    if isinstance(result, Comparison):
        save_comparison(result, folder, run)
    elif isinstance(result, Ranking | SharedOut):
        save_ranking(result, folder, run)
    elif isinstance(result, Proposal):
        save_proposal(result, folder, run)
    elif isinstance(result, Estimate):
        save_estimate(result, folder, run)
    elif isinstance(result, Handover):
        save_handover(result, folder, run)
    elif isinstance(result, Review):
        save_review(result, folder, run)
    elif isinstance(result, xr.Dataset) and "wiring" in result.attrs:
        save_result(result, folder, run)
    else:
        refuse(
            "result",
            f"a {type(result).__name__}",
            "what simulate, compare, propose, weigh, estimate, handover or review returned",
        )
    return Path(folder)


def load(
    folder: str | Path,
    what: str | None = None,
    site: Site | None = None,
    weather: xr.Dataset | None = None,
) -> xr.Dataset | Comparison | Ranking | SharedOut | Proposal | Estimate | Handover | Review:
    """Return what was saved in a folder, without computing anything again.

    Parameters
    ----------
    folder : str or Path
        Where it was saved, by `save` or by a command.
    what : str, optional
        "comparison", "ranking", "proposal", "estimate", "handover", "review", or the name of a
        simulated wiring; needed only where the folder holds several. A proposal holds its ranking,
        and stands for both.
    site : Site, optional
        The site it has to be of; the one it was saved with if left out.
    weather : Dataset, optional
        Canonical weather it has to be of, where that is not the site's own.

    Returns
    -------
    Dataset, Comparison, Ranking, Proposal, Estimate, Handover or Review
        What was saved.

    Raises
    ------
    InputError
        For a folder without results, files that aren't as they were written, and results of
        another version, site or weather.
    """
    place = Path(folder)
    found = _found_in(place)
    _refuse_nothing_whole(place, found)
    chosen = what if what is not None else _only(place, found)
    if chosen not in found:
        close = nearest(chosen, found)
        refuse(
            str(place),
            f"no '{chosen}'",
            _listed(found),
            remedy=f"Did you mean '{close}'?" if close else "",
        )
    if chosen == COMPARISON:
        return saved_comparison(place, site, weather)
    if chosen == RANKING:
        return saved_ranking(place, site, weather=weather)
    if chosen == PROPOSAL:
        return saved_proposal(place, site, weather=weather)
    if chosen == ESTIMATE:
        return saved_estimate(place, site, weather)
    if chosen == HANDOVER:
        return saved_handover(place, site)
    if chosen == REVIEW:
        return saved_review(place, site)
    return saved_result(place, chosen, site, weather)


def _refuse_nothing_whole(place: Path, found: list[str]) -> None:
    """Refuse a folder that holds no results, or files of several runs side by side."""
    if not found:
        refuse(
            str(place),
            "a folder without results" if place.is_dir() else "no such folder",
            "a folder that yieldkit saved results in",
            remedy="Save them with `yieldkit.save`, or with --out of a command.",
        )
    for sign in sorted(place.glob("UNFINISHED-*.txt")):
        refuse(
            str(sign),
            "a run that was stopped while its files were put in place",
            "files of one run",
            remedy="Run it again into this folder.",
        )


def _only(place: Path, found: list[str]) -> str:
    """Return the one thing that a folder holds; refuse several."""
    leading = [name for name in found if name != RANKING or PROPOSAL not in found]
    if len(leading) > 1:
        refuse(str(place), _listed(found), "one of them by its name", remedy="Name it as `what`.")
    return leading[0]


def _listed(found: list[str]) -> str:
    return "results: " + ", ".join(f"'{name}'" for name in found)


def _found_in(place: Path) -> list[str]:
    """Return what a folder holds: kinds of results, and names of simulated wirings."""
    kinds = (
        (COMPARISON, COMPARISON_FILE),
        (RANKING, RANKING_FILE),
        (PROPOSAL, PROPOSAL_FILE),
        (ESTIMATE, ESTIMATE_FILE),
        (HANDOVER, HANDOVER_FILE),
        (REVIEW, REVIEW_FILE),
    )
    found = [name for name, file in kinds if (place / file).is_file()]
    for table in sorted(place.glob(f"*{LOSSES}")):
        path = place / f"{table.name.removesuffix(LOSSES)}.nc"
        if path.is_file():
            wiring = str(read_dataset(path).attrs.get("wiring", ""))
            found += [wiring] if hashed_name(wiring) == path.stem else []
    return found
