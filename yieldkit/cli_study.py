"""The commands that simulate: compare and simulate."""

from __future__ import annotations

import logging
import sys
from argparse import Namespace
from pathlib import Path

from tqdm import tqdm

from yieldkit.cli_site import caution, chosen_site, note, say
from yieldkit.design.limits import named_wiring
from yieldkit.report.notebook import run_report
from yieldkit.report.text import comparison_text, result_text
from yieldkit.study.compare import compare as compare_site
from yieldkit.study.save import save_result
from yieldkit.study.simulate import simulate as simulate_wiring
from yieldkit.study.weather import weather_cautions

DONE, FINDINGS = 0, 1


def compare(options: Namespace) -> int:
    """Compare all wirings; return 1 when none of them is permitted."""
    site = chosen_site(options)
    quiet = not sys.stderr.isatty()
    with tqdm(total=len(site.wirings), desc="wirings", disable=quiet, leave=False) as bar:
        comparison = compare_site(site, progress=lambda _name: bar.update())
    say(comparison_text(comparison))
    caution(weather_cautions(comparison.prepared.weather))
    if not options.no_report:
        # A notebook that is stopped leaves a task behind, which would complain on the terminal.
        logging.getLogger("asyncio").setLevel(logging.CRITICAL)
        named = "" if options.site is None else str(Path(options.site).resolve())
        report = run_report("compare_wirings.ipynb", {"site_file": named}, Path(options.out))
        say(f"\nReport: {report}")
    return FINDINGS if comparison.best is None else DONE


def simulate(options: Namespace) -> int:
    """Simulate one wiring; print its yield and losses, and save them when a folder is named."""
    site = chosen_site(options)
    wiring = named_wiring(site, options.wiring)
    if options.wiring is None:
        note(f"No wiring named: using the first, '{wiring.name}'.")
    result = simulate_wiring(site, wiring.name)
    say(result_text(result))
    caution(str(result.attrs["weather_cautions"]).splitlines())
    if options.out is not None:
        for path in save_result(result, Path(options.out)):
            say(f"Saved: {path}")
    return DONE
