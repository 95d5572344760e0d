"""Compare and check the wirings of photovoltaic inverters with several MPP trackers.

The names below are loaded on their first use, so that importing the package costs nothing.
"""

from importlib import import_module
from typing import Any

_DOOR = {
    "Comparison": "yieldkit.study.compare",
    "Constraints": "yieldkit.design.constraints",
    "Finding": "yieldkit.design.findings",
    "Findings": "yieldkit.design.findings",
    "InputError": "yieldkit.words.errors",
    "Ranking": "yieldkit.study.propose",
    "Site": "yieldkit.config.site",
    "allowed_lengths": "yieldkit.design.limits",
    "check": "yieldkit.design.limits",
    "compare": "yieldkit.study.compare",
    "load_site": "yieldkit.config.files",
    "propose": "yieldkit.study.propose",
    "read_weather": "yieldkit.weather.readers",
    "run_report": "yieldkit.report.notebook",
    "simulate": "yieldkit.study.simulate",
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
