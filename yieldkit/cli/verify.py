"""The command that says whether readings and logs fit the drawn wiring, and which slip explains."""

from __future__ import annotations

import json
import re
from argparse import Namespace
from pathlib import Path

from yieldkit.base.compiling import announced_compiling
from yieldkit.base.errors import refuse
from yieldkit.cli.chosen import chosen_site
from yieldkit.cli.key_lines import telling_lines
from yieldkit.cli.speech import note, say, terminal_width
from yieldkit.config.site.site import Site
from yieldkit.report.tables.terminal_log import log_verdict_json, log_verdict_text
from yieldkit.report.tables.terminal_verify import verdict_json, verdict_text
from yieldkit.study.handover.log_verdict import log_verdict
from yieldkit.study.handover.reading import Readings
from yieldkit.study.handover.readings import read_readings
from yieldkit.study.handover.verdict import verdict
from yieldkit.study.logs.plant_log import PlantLog
from yieldkit.study.logs.reading import read_log

FITS, OTHERWISE, NOT_CHECKED = 0, 1, 4
_YAML = (".yaml", ".yml")
_DESCRIPTION = re.compile(rb"^(files|inverters|columns)[ \t]*:", re.MULTILINE)
_LOOKED_AT_BYTES = 65536


@announced_compiling(note)
@telling_lines
def verify(options: Namespace) -> int:
    """Judge a filled-in sheet, or logs; 1 if anything is otherwise, 4 if anything stays unread."""
    site = chosen_site(options)
    files = [options.readings, *options.logs]
    described = [own for own in files if _is_description(own)]
    tables = [own for own in files if own not in described]
    if len(tables) > 1:
        refuse(
            ", ".join(tables),
            f"{len(tables)} tables of readings",
            "one filled-in sheet, and descriptions of logs (YAML) beside it",
            remedy="A log's own tables are named in its description",
        )
    readings = read_readings(tables[0], site, options.wiring) if tables else None
    if described or readings is None:
        return _logs(site, described, readings, options)
    found = verdict(site, readings)
    if options.json:
        say(json.dumps(verdict_json(found), indent=2))
    else:
        say(verdict_text(found, terminal_width()))
    if not found.explanations and not found.loud:
        return NOT_CHECKED
    if not found.is_as_drawn:
        return OTHERWISE
    return NOT_CHECKED if found.unread else FITS


def _logs(site: Site, described: list[str], readings: Readings | None, options: Namespace) -> int:
    wiring = options.wiring if readings is None else readings.wiring
    logs: list[PlantLog] = [read_log(own, site, wiring) for own in described]
    found = log_verdict(site, wiring, logs, readings)
    if options.json:
        say(json.dumps(log_verdict_json(found), indent=2))
    else:
        say(log_verdict_text(found, terminal_width()))
    if not found.is_as_drawn:
        return OTHERWISE
    return NOT_CHECKED if found.unread else FITS


def _is_description(file: str) -> bool:
    """Return whether a file describes a log; a table of readings is anything else."""
    path = Path(file)
    if path.suffix.lower() in _YAML:
        return True
    if not path.is_file():
        return False
    with path.open("rb") as opened:
        return bool(_DESCRIPTION.search(opened.read(_LOOKED_AT_BYTES)))
