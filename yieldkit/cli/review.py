"""The command that says from a year's log what a plant did, and what to look at first."""

from __future__ import annotations

import json
import shlex
from argparse import Namespace

from yieldkit.base.compiling import announced_compiling
from yieldkit.cli.chosen import chosen_site
from yieldkit.cli.key_lines import telling_lines
from yieldkit.cli.results_page import page_of_results
from yieldkit.cli.speech import note, results_stage, say, terminal_width
from yieldkit.config.site.site import Site
from yieldkit.report.tables.terminal_review import review_text
from yieldkit.study.logs.reading import read_log
from yieldkit.study.logs.starting import start_log
from yieldkit.study.results.review import REVIEW, REVIEW_PAGE, review_content, write_review
from yieldkit.study.review.review import review as review_log

NOTHING_WRONG, TO_LOOK_AT, NOT_CHECKED = 0, 1, 4


@announced_compiling(note)
@telling_lines
def review(options: Namespace) -> int:
    """Review a log; return 1 if there is something to look at, 4 if an input never counts."""
    site = chosen_site(options)
    if options.describe:
        return _describe(options, site)
    log = read_log(options.log, site, options.wiring)
    with results_stage(options, REVIEW, (REVIEW_PAGE,)) as stage:
        found = review_log(site, options.wiring, log)
        if stage is not None:
            write_review(found, stage.folder, stage.run)
        if options.json:
            say(json.dumps(review_content(found), indent=2, allow_nan=False))
        else:
            say(review_text(found, terminal_width()))
        if stage is not None and options.no_report:
            stage.put()
            note(f"Results: {stage.target} (run {stage.run})")
        elif stage is not None:
            note("Making the report (half a minute).")
            (page,) = page_of_results(options, stage, "first_year.ipynb")
            note(f"Report: {page}")
    if found.signs:
        return TO_LOOK_AT
    return NOT_CHECKED if found.unread else NOTHING_WRONG


def _describe(options: Namespace, site: Site) -> int:
    """Write a description of a table to fill in; a file that exists is not touched."""
    written = start_log(options.log, site, options.wiring)
    words = [str(written), *([] if options.site is None else [options.site])]
    say(
        f"Wrote {written}. Fill in its zone, its label and the columns, then run: "
        f"yieldkit review {shlex.join(words)}"
    )
    return NOTHING_WRONG
