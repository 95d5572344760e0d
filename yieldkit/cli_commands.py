"""What each command calls and prints."""

from __future__ import annotations

import json
import sys
from argparse import Namespace
from pathlib import Path

from tqdm import tqdm

from yieldkit.config.files import load_site, new_site_text
from yieldkit.config.files import schema as site_schema
from yieldkit.config.site import Site
from yieldkit.design.limits import check as check_wiring
from yieldkit.design.limits import named_wiring
from yieldkit.report.findings_text import (
    against_limits,
    findings_frame,
    findings_json,
    findings_text,
)
from yieldkit.report.notebook import run_report
from yieldkit.report.text import comparison_text, result_text
from yieldkit.study.compare import compare as compare_site
from yieldkit.study.save import save_result
from yieldkit.study.simulate import simulate as simulate_wiring
from yieldkit.words.errors import refuse
from yieldkit.words.plain import plain_line
from yieldkit.words.store import table_text, write_text

DONE, FINDINGS = 0, 1


def _load(options: Namespace) -> Site:
    if options.site is None:
        print("No site file given: using the demonstration site (invented).", file=sys.stderr)
    return load_site(options.site)


def _wiring_name(site: Site, options: Namespace) -> str:
    name = named_wiring(site, options.wiring).name
    if options.wiring is None:
        print(f"No wiring named: using the first, '{plain_line(name)}'.", file=sys.stderr)
    return name


def compare(options: Namespace) -> int:
    """Compare all wirings; exit 1 when the recommended one has findings against limits."""
    site = _load(options)
    quiet = not sys.stderr.isatty()
    with tqdm(total=len(site.wirings), desc="wirings", disable=quiet, leave=False) as bar:
        comparison = compare_site(site, progress=lambda _name: bar.update())
    print(comparison_text(comparison))
    if not options.no_report:
        parameters = {"site_file": "" if options.site is None else str(Path(options.site).resolve())}
        report = run_report("compare_wirings.ipynb", parameters, Path(options.out))
        print(f"\nReport: {report}")
    if comparison.best is None:
        return FINDINGS
    best = dict(comparison.findings)[comparison.best]
    return FINDINGS if any(finding.verdict == "not permitted" for finding in best) else DONE


def simulate(options: Namespace) -> int:
    """Simulate one wiring; print its yield and losses, and save them when a folder is named."""
    site = _load(options)
    result = simulate_wiring(site, _wiring_name(site, options))
    print(result_text(result))
    if options.out is not None:
        for path in save_result(result, Path(options.out)):
            print(f"Saved: {path}")
    return DONE


def check(options: Namespace) -> int:
    """Check one wiring or all; exit 1 when any finding is against a limit."""
    site = _load(options)
    wirings = site.wirings if options.wiring is None else (named_wiring(site, options.wiring),)
    found = {wiring.name: check_wiring(site, wiring) for wiring in wirings}
    if options.json:
        print(json.dumps(findings_json(found), indent=2))
    elif options.csv:
        print(table_text(findings_frame(found)), end="")
    else:
        print(findings_text(found))
    return FINDINGS if any(against_limits(each) for each in found.values()) else DONE


def schema(options: Namespace) -> int:
    """Print the JSON schema of a site file."""
    print(json.dumps(site_schema(), indent=2))
    return DONE


def new(options: Namespace) -> int:
    """Write a commented site file; an existing file is not touched."""
    path = Path(options.file)
    if path.exists():
        refuse(str(path), "a file that exists", "a new name", remedy="Name another file.")
    write_text(path, new_site_text())
    print(f"Wrote {path}. Edit it, then run: yieldkit compare {path}")
    return DONE
