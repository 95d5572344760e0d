"""The command that simulates one wiring."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from yieldkit.base.compiling import announced_compiling
from yieldkit.cli.chosen import chosen_site
from yieldkit.cli.key_lines import telling_lines
from yieldkit.cli.speech import caution, note, results_stage, say, terminal_width
from yieldkit.design.checks.limits import named_wiring
from yieldkit.report.tables.terminal import result_text
from yieldkit.study.results.result import result_kind, write_result
from yieldkit.study.simulation.simulate import simulate as simulate_wiring

DONE = 0


@announced_compiling(note)
@telling_lines
def simulate(options: Namespace) -> int:
    """Simulate one wiring; print its yield and losses, and save them when a folder is named."""
    site = chosen_site(options)
    wiring = named_wiring(site, options.wiring)
    if options.wiring is None:
        note(f"No wiring named: using the first, '{wiring.name}'.")
    with results_stage(options, result_kind(wiring.name)) as stage:
        result = simulate_wiring(site, wiring.name)
        saved: tuple[Path, ...] = ()
        if stage is not None:
            write_result(result, stage.folder, stage.run)
            saved = stage.put()[:-1]
        say(result_text(result, terminal_width()))
        caution(str(result.attrs["weather_cautions"]).splitlines())
        for path in saved:
            say(f"Saved: {path}")
    return DONE
