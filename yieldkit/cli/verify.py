"""The command that says whether readings fit the drawn wiring, and which slip explains them."""

from __future__ import annotations

import json
from argparse import Namespace

from yieldkit.base.compiling import announced_compiling
from yieldkit.cli.chosen import chosen_site
from yieldkit.cli.key_lines import telling_lines
from yieldkit.cli.speech import note, say, terminal_width
from yieldkit.report.tables.terminal_verify import verdict_json, verdict_text
from yieldkit.study.handover.readings import read_readings
from yieldkit.study.handover.verdict import verdict

FITS, OTHERWISE, NOT_CHECKED = 0, 1, 4


@announced_compiling(note)
@telling_lines
def verify(options: Namespace) -> int:
    """Judge a filled-in sheet; return 1 if anything reads otherwise, 4 if strings stay unread."""
    site = chosen_site(options)
    found = verdict(site, read_readings(options.readings, site, options.wiring))
    if options.json:
        say(json.dumps(verdict_json(found), indent=2))
    else:
        say(verdict_text(found, terminal_width()))
    if not found.explanations and not found.loud:
        return NOT_CHECKED
    if not found.is_as_drawn:
        return OTHERWISE
    return NOT_CHECKED if found.unread else FITS
