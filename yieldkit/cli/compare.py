"""The command that compares the wirings of a site and makes the report of them."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

import yieldkit
from yieldkit.base.compiling import announced_compiling
from yieldkit.base.staging import Stage
from yieldkit.cli.chosen import chosen_site
from yieldkit.cli.key_lines import telling_lines
from yieldkit.cli.results_page import notebook_parameters
from yieldkit.cli.speech import (
    Bars,
    caution,
    note,
    results_stage,
    say,
    terminal_width,
)
from yieldkit.report.tables.terminal_comparison import comparison_text
from yieldkit.study.comparison.compare import Comparison
from yieldkit.study.comparison.compare import compare as compare_site
from yieldkit.study.results.comparison import COMPARE, COMPARE_PAGE, write_comparison
from yieldkit.study.results.details import write_details
from yieldkit.study.simulation.weather import weather_cautions

DONE, FINDINGS = 0, 1


@announced_compiling(note)
@telling_lines
def compare(options: Namespace) -> int:
    """Compare all wirings; return 1 when all of them are forbidden."""
    site = chosen_site(options)
    with results_stage(options, COMPARE, (COMPARE_PAGE,)) as stage:
        with Bars() as bars:
            comparison = compare_site(site, progress=bars.show)
            if stage is not None:
                write_comparison(comparison, stage.folder, stage.run)
                if options.no_report:
                    stage.put()
            better = comparison.better(bars.show)
        say(comparison_text(comparison, terminal_width(), better))
        caution(weather_cautions(comparison.weather))
        if stage is not None and options.no_report:
            say(f"\nResults: {stage.target} (run {stage.run})")
        elif stage is not None:
            note("Making the report (less than a minute).")
            say(f"\nReport: {_report(options, comparison, stage)}")
    return FINDINGS if comparison.best is None else DONE


def _report(options: Namespace, comparison: Comparison, stage: Stage) -> Path:
    """Make the report from the results on the stage and put all of them in place."""
    given = notebook_parameters(options, stage)
    try:
        with Bars() as bars:
            write_details(comparison.details(bars.show), stage.folder, stage.run)
            page = yieldkit.run_report(
                "compare_wirings.ipynb", given, stage.target, stage=stage, progress=bars.show
            )
    except Exception:
        # The results are whole, and an earlier report must not stand for them.
        stage.put()
        raise
    stage.put()
    return page
