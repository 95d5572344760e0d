"""The command that finds and ranks every wiring that no limit forbids."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import NamedTuple

from yieldkit.base.compiling import announced_compiling
from yieldkit.base.errors import refuse
from yieldkit.base.files import write_table, write_text
from yieldkit.base.staging import refuse_unwritable
from yieldkit.cli.chosen import chosen_site
from yieldkit.cli.key_lines import telling_lines
from yieldkit.cli.results_page import page_of_results
from yieldkit.cli.speech import (
    caution,
    note,
    results_stage,
    say,
    terminal_width,
)
from yieldkit.cli.stoppable import StoppableBars
from yieldkit.config.site.files import site_text
from yieldkit.config.site.site import Site
from yieldkit.config.site.written_back import with_wirings
from yieldkit.design.permitted.constraints import Constraints, constraints_from
from yieldkit.report.tables.terminal_choice import choice_text
from yieldkit.report.tables.terminal_ranking import proposal_text
from yieldkit.study.ranking.proposal import refuse_counts, weigh
from yieldkit.study.ranking.propose import propose as propose_wirings
from yieldkit.study.results.proposal import write_proposal
from yieldkit.study.results.ranking import (
    PROPOSE,
    PROPOSE_PAGE,
    RANKING_TABLE,
    write_ranking,
)
from yieldkit.study.several_inverters.choice import choose
from yieldkit.study.simulation.weather import weather_cautions

DONE, FORBIDDEN, INTERRUPTED = 0, 1, 130
CHOICE_TABLE = "choice.csv"


@announced_compiling(note)
@telling_lines
def propose(options: Namespace) -> int:
    """Rank every wiring with nothing forbidden; save the ranking before what takes longer."""
    site = chosen_site(options)
    constraints = {
        "leave_out": options.leave_out,
        "strings": options.strings,
        "shortest": options.shortest,
        "longest": options.longest,
        "cross": [_names(text) for text in options.cross],
        "keep_free": options.keep_free,
        "laid": options.laid,
        "wiring": options.wiring,
    }
    if options.choose is not None:
        return _choose(options, site, constraints_from(site, constraints))
    into = _site_to_save(options, site)
    refuse_counts(options.top, options.draws)
    asked = constraints_from(site, constraints)
    with results_stage(options, PROPOSE, (PROPOSE_PAGE,)) as stage:
        with StoppableBars() as bar:
            ranking = propose_wirings(
                site, asked, most=options.most, progress=bar.show, every_days=options.every_days
            )
            if not ranking.order.size:
                raise KeyboardInterrupt
            if stage is not None:
                write_ranking(ranking, stage.folder, stage.run)
                stage.put()
            draws = 0 if bar.stopped else options.draws
            if draws:
                note(f"Drawing what nobody knows, {draws} times: is the best really better?")
            proposal = weigh(ranking, options.top, draws, bar.show)
        if stage is not None:
            write_proposal(proposal, stage.folder, stage.run)
            if options.no_report or bar.stopped:
                stage.put()
        say(proposal_text(proposal, terminal_width()))
        done = FORBIDDEN if proposal.forbidden else DONE
        caution(weather_cautions(ranking.prepared.weather))
        if into is not None:
            text = with_wirings(into.text, proposal.best, site.folder, into.path.parent)
            write_text(into.path, text, record=False)
            number = len(proposal.best)
            several = "" if number == 1 else "s"
            say(f"\nWrote {into.path}: the site with {number} proposed wiring{several}.")
        if stage is not None:
            say(f"\nRanking: {stage.target / RANKING_TABLE}")
        if stage is None or options.no_report:
            return INTERRUPTED if bar.stopped else done
        if bar.stopped:
            note("Stopped: what was ranked so far is kept; there is no report.")
            return INTERRUPTED
        note("Making the report (less than a minute).")
        (page,) = page_of_results(options, stage, "propose_wirings.ipynb")
        say(f"Report: {page}")
    return done


def _choose(options: Namespace, site: Site, asked: Constraints) -> int:
    """Tell the best wiring of every choice of inverters."""
    if options.save_site or options.every_days != 1:
        refuse(
            "--choose",
            "with --save-site or --every-days",
            "--choose without them",
            remedy="Write the inverters that you choose into the file, and propose again.",
        )
    refuse_counts(options.top, 0)
    with StoppableBars() as bar:
        choice = choose(site, options.choose, asked, progress=bar.show)
    say(choice_text(choice, options.top, terminal_width()))
    if options.out:
        path = Path(options.out) / CHOICE_TABLE
        refuse_unwritable(path.parent)
        write_table(path, choice.table)
        say(f"\nChoices: {path}")
    return INTERRUPTED if bar.stopped else DONE


class _Saved(NamedTuple):
    """Where the site goes with the best wirings added, and the text it starts from."""

    path: Path
    text: str


def _site_to_save(options: Namespace, site: Site) -> _Saved | None:
    """Return where the site is to be saved, having tried that it can be."""
    if not options.save_site:
        return None
    path, text = Path(options.save_site), site_text(options.site)
    if path.exists():
        refuse(str(path), "a file that exists", "a new name", remedy="Name another file.")
    refuse_unwritable(path.parent)
    with_wirings(text, site.wirings[:1], site.folder)
    return _Saved(path, text)


def _names(text: str) -> list[str]:
    return [name.strip() for name in text.split(",") if name.strip()]
