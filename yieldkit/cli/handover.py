"""The command that makes the sheet by which a wiring is built, tested and handed over."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

import yieldkit
from yieldkit.base.compiling import announced_compiling
from yieldkit.base.staging import Stage
from yieldkit.cli.chosen import chosen_site, named_site
from yieldkit.cli.key_lines import telling_lines
from yieldkit.cli.results_page import quiet_kernels
from yieldkit.cli.speech import Bars, note, results_stage, say, terminal_width
from yieldkit.report.tables.terminal_handover import handover_text
from yieldkit.study.handover.cloudless_day import day_from, refuse_air
from yieldkit.study.handover.handover import handover as handover_sheet
from yieldkit.study.results.handover import (
    HANDOVER,
    HANDOVER_PAGE,
    TABLE_FILE,
    refuse_filled_in,
    write_handover,
)

DONE = 0


@announced_compiling(note)
@telling_lines
def handover(options: Namespace) -> int:
    """Make the handover sheet of a wiring; one that a limit forbids is refused."""
    site = chosen_site(options)
    day = None if options.on is None else day_from(options.on, "--on")
    refuse_air(options.air, "--air")
    sheet = handover_sheet(site, options.wiring, day=day, temp_air=options.air)
    if options.wiring is None and len(site.wirings) > 1:
        note(f"The first of {len(site.wirings)} wirings; --wiring NAME chooses another.")
    with results_stage(options, HANDOVER, (HANDOVER_PAGE,)) as stage:
        if stage is not None:
            refuse_filled_in(stage.target)
            write_handover(sheet, stage.folder, stage.run)
        say(handover_text(sheet, terminal_width()))
        if stage is None:
            return DONE
        if options.no_report:
            stage.put()
        else:
            note("Making the page (half a minute).")
            say(f"\nSheet: {_page(options, stage)}")
        say(f"Table to fill in: {stage.target / TABLE_FILE}")
    return DONE


def _page(options: Namespace, stage: Stage) -> Path:
    """Make the page and put all in place, the table alone where it fails."""
    quiet_kernels()
    given = {"site_file": named_site(options), "results_dir": str(stage.folder.resolve())}
    try:
        with Bars() as bars:
            return yieldkit.run_report(
                "handover.ipynb", given, stage.target, stage=stage, progress=bars.show
            )
    finally:
        stage.put()
