"""The command that checks wirings against electrical limits."""

from __future__ import annotations

import json
from argparse import Namespace

from yieldkit.cli_site import chosen_site, note, say
from yieldkit.design.limits import check as check_wiring
from yieldkit.design.limits import named_wiring
from yieldkit.report.findings_text import (
    against_limits,
    findings_frame,
    findings_json,
    findings_text,
)
from yieldkit.words.store import table_text

DONE, FINDINGS = 0, 1


def check(options: Namespace) -> int:
    """Check one wiring or all; return 1 when any finding is against a limit."""
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
        say(findings_text(found))
    return FINDINGS if any(against_limits(each) for each in found.values()) else DONE
