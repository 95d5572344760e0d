"""The command that says what a wiring yields in a likely and in a cautious year."""

from __future__ import annotations

from argparse import Namespace
from datetime import date

from yieldkit.base.compiling import announced_compiling
from yieldkit.base.errors import refuse
from yieldkit.cli.chosen import chosen_site
from yieldkit.cli.key_lines import telling_lines
from yieldkit.cli.results_page import page_of_results
from yieldkit.cli.speech import Bars, caution, note, results_stage, say, terminal_width
from yieldkit.report.offer.overdue import overdue
from yieldkit.report.tables.terminal_estimate import estimate_text
from yieldkit.study.estimate.choice import refuse_forbidden
from yieldkit.study.estimate.estimate import estimate as estimate_wiring
from yieldkit.study.estimate.estimate import refuse_draws, refuse_seed
from yieldkit.study.results.estimate import ESTIMATE, ESTIMATE_PAGES, write_estimate

DONE = 0
_REPORT, _PAGES = "estimate.ipynb", "offer.ipynb"


@announced_compiling(note)
@telling_lines
def estimate(options: Namespace) -> int:
    """Estimate a wiring's yield with its bands; a wiring that a limit forbids is refused."""
    if options.customer and options.no_report:
        refuse(
            "--customer",
            "--no-report beside it",
            "one of the two: pages for a customer are a report",
        )
    site = chosen_site(options)
    refuse_draws(options.draws, "--draws")
    refuse_seed(options.seed, "--seed")
    if options.wiring is not None:
        refuse_forbidden(site, options.wiring)
    if options.customer:
        caution(overdue(site.offer, date.today()))
    with results_stage(options, ESTIMATE, ESTIMATE_PAGES) as stage:
        with Bars() as bars:
            found = estimate_wiring(
                site, options.wiring, draws=options.draws, seed=options.seed, progress=bars.show
            )
        if stage is not None:
            write_estimate(found, stage.folder, stage.run)
            if options.no_report:
                stage.put()
        say(estimate_text(found, terminal_width()))
        caution(str(found.data.attrs["weather_cautions"]).splitlines())
        if stage is not None and options.no_report:
            say(f"\nResults: {stage.target} (run {stage.run})")
        elif stage is not None:
            note("Making the report (less than a minute).")
            notebook = _PAGES if options.customer else _REPORT
            made = page_of_results(options, stage, notebook, on_paper=options.customer)
            what = "For the customer" if options.customer else "Report"
            say(f"\n{what}: {' and '.join(map(str, made))}")
    return DONE
