"""Compare and check the wirings of photovoltaic inverters with several MPP trackers.

The names below are loaded on their first use, so that importing the package costs nothing.
"""

from importlib import import_module
from typing import Any

_DOOR = {
    "Comparison": "yieldkit.study.comparison.compare",
    "Constraints": "yieldkit.design.permitted.constraints",
    "Finding": "yieldkit.design.checks.findings",
    "Findings": "yieldkit.design.checks.findings",
    "InputError": "yieldkit.base.errors",
    "Ranking": "yieldkit.study.ranking.propose",
    "Site": "yieldkit.config.site.site",
    "allowed_lengths": "yieldkit.design.checks.limits",
    "check": "yieldkit.design.checks.limits",
    "compare": "yieldkit.study.comparison.compare",
    "load_site": "yieldkit.config.site.files",
    "propose": "yieldkit.study.ranking.propose",
    "read_weather": "yieldkit.weather.readers.read",
    "run_report": "yieldkit.report.page.notebook",
    "simulate": "yieldkit.study.simulation.simulate",
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
