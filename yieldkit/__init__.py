"""Compare and check the wirings of photovoltaic inverters with several MPP trackers.

The names below are loaded on their first use, so that importing the package costs nothing.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    # For those who read the code and don't run it; a test holds it to the table below.
    from yieldkit.base.errors import InputError as InputError
    from yieldkit.config.site.files import load_site as load_site
    from yieldkit.config.site.site import Site as Site
    from yieldkit.design.checks.findings import Finding as Finding
    from yieldkit.design.checks.findings import Findings as Findings
    from yieldkit.design.checks.limits import allowed_lengths as allowed_lengths
    from yieldkit.design.checks.limits import check as check
    from yieldkit.design.permitted.constraints import Constraints as Constraints
    from yieldkit.design.permitted.constraints import constraints_from as constraints_from
    from yieldkit.design.roof.scene import without_obstacles as without_obstacles
    from yieldkit.report.page.notebook import run_report as run_report
    from yieldkit.study.batch.sweep import Summary as Summary
    from yieldkit.study.batch.sweep import sweep as sweep
    from yieldkit.study.batch.what_if import WhatIf as WhatIf
    from yieldkit.study.batch.what_if import what_if as what_if
    from yieldkit.study.comparison.compare import Comparison as Comparison
    from yieldkit.study.comparison.compare import compare as compare
    from yieldkit.study.estimate.estimate import estimate as estimate
    from yieldkit.study.estimate.result import Estimate as Estimate
    from yieldkit.study.handover.handover import handover as handover
    from yieldkit.study.handover.log_verdict import LogVerdict as LogVerdict
    from yieldkit.study.handover.log_verdict import log_verdict as log_verdict
    from yieldkit.study.handover.readings import read_readings as read_readings
    from yieldkit.study.handover.sheet import Handover as Handover
    from yieldkit.study.handover.verdict import Verdict as Verdict
    from yieldkit.study.handover.verdict import verdict as verdict
    from yieldkit.study.logs.plant_log import PlantLog as PlantLog
    from yieldkit.study.logs.reading import read_log as read_log
    from yieldkit.study.logs.starting import start_log as start_log
    from yieldkit.study.ranking.proposal import Proposal as Proposal
    from yieldkit.study.ranking.proposal import weigh as weigh
    from yieldkit.study.ranking.propose import Ranking as Ranking
    from yieldkit.study.ranking.propose import propose as propose
    from yieldkit.study.results.saved import load as load
    from yieldkit.study.results.saved import save as save
    from yieldkit.study.review.result import Review as Review
    from yieldkit.study.review.review import review as review
    from yieldkit.study.simulation.simulate import simulate as simulate
    from yieldkit.weather.readers.read import read_weather as read_weather

_DOOR = {
    "Comparison": "yieldkit.study.comparison.compare",
    "Constraints": "yieldkit.design.permitted.constraints",
    "Estimate": "yieldkit.study.estimate.result",
    "Finding": "yieldkit.design.checks.findings",
    "Findings": "yieldkit.design.checks.findings",
    "Handover": "yieldkit.study.handover.sheet",
    "InputError": "yieldkit.base.errors",
    "PlantLog": "yieldkit.study.logs.plant_log",
    "LogVerdict": "yieldkit.study.handover.log_verdict",
    "Proposal": "yieldkit.study.ranking.proposal",
    "Ranking": "yieldkit.study.ranking.propose",
    "Review": "yieldkit.study.review.result",
    "Site": "yieldkit.config.site.site",
    "Summary": "yieldkit.study.batch.sweep",
    "Verdict": "yieldkit.study.handover.verdict",
    "WhatIf": "yieldkit.study.batch.what_if",
    "allowed_lengths": "yieldkit.design.checks.limits",
    "check": "yieldkit.design.checks.limits",
    "compare": "yieldkit.study.comparison.compare",
    "constraints_from": "yieldkit.design.permitted.constraints",
    "estimate": "yieldkit.study.estimate.estimate",
    "handover": "yieldkit.study.handover.handover",
    "load": "yieldkit.study.results.saved",
    "load_site": "yieldkit.config.site.files",
    "log_verdict": "yieldkit.study.handover.log_verdict",
    "propose": "yieldkit.study.ranking.propose",
    "read_log": "yieldkit.study.logs.reading",
    "read_readings": "yieldkit.study.handover.readings",
    "read_weather": "yieldkit.weather.readers.read",
    "review": "yieldkit.study.review.review",
    "run_report": "yieldkit.report.page.notebook",
    "save": "yieldkit.study.results.saved",
    "simulate": "yieldkit.study.simulation.simulate",
    "start_log": "yieldkit.study.logs.starting",
    "sweep": "yieldkit.study.batch.sweep",
    "verdict": "yieldkit.study.handover.verdict",
    "weigh": "yieldkit.study.ranking.proposal",
    "what_if": "yieldkit.study.batch.what_if",
    "without_obstacles": "yieldkit.design.roof.scene",
}

__all__ = sorted(_DOOR)


def __getattr__(name: str) -> Any:
    """Load a public name from its room on first use."""
    if name not in _DOOR:
        raise AttributeError(f"module 'yieldkit' has no attribute '{name}'")
    return getattr(import_module(_DOOR[name]), name)


def __dir__() -> list[str]:
    """List the public names only."""
    return sorted(_DOOR)
