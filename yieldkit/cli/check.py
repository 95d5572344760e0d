"""The command that checks wirings against electrical limits."""

from __future__ import annotations

import json
from argparse import Namespace

from yieldkit.base.compiling import announced_compiling
from yieldkit.base.files import table_text
from yieldkit.cli.chosen import chosen_site
from yieldkit.cli.key_lines import telling_lines
from yieldkit.cli.speech import caution, note, say, terminal_width
from yieldkit.design.checks.limits import check as check_wiring
from yieldkit.design.checks.limits import named_wiring
from yieldkit.design.checks.permission import FORBIDDEN, OPEN, PERMITTED, permission
from yieldkit.report.tables.findings import findings_frame, findings_json
from yieldkit.report.tables.findings_terminal import findings_text
from yieldkit.study.simulation.weather_questions import weather_remarks

CODES = {FORBIDDEN: 1, OPEN: 4, PERMITTED: 0}
"""Exit code by what a wiring may be called; what costs yield is no failure."""


@announced_compiling(note)
@telling_lines
def check(options: Namespace) -> int:
    """Check one wiring or all; return 1 if one is forbidden, 4 if essential limits are open."""
    site = chosen_site(options)
    if options.wiring is None:
        note(f"No wiring named: checking all {len(site.wirings)}.")
        wirings = site.wirings
    else:
        wirings = (named_wiring(site, options.wiring),)
    found = {wiring.name: check_wiring(site, wiring) for wiring in wirings}
    if options.json:
        say(json.dumps(findings_json(found), indent=2))
    elif options.csv:
        say(table_text(findings_frame(found)).rstrip("\n"))
    else:
        say(findings_text(found, everything=options.all, width=terminal_width()))
    caution(weather_remarks(site))
    called = {permission(each).word for each in found.values()}
    return next(code for word, code in CODES.items() if word in called)
