"""The site a command works on."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from yieldkit.cli.speech import note
from yieldkit.config.site.site import Site
from yieldkit.design.roof.scene import without_shadow
from yieldkit.study.simulation.weather_questions import asked_site


def chosen_site(options: Namespace) -> Site:
    """Return the site that was named, or the demonstration site, and say so."""
    if options.site is None:
        note("No site file given: using the demonstration site (invented).")
    site = asked_site(options.site)
    if getattr(options, "without_obstacles", False):
        note("Without obstacles: every module is taken to have the light of its plane.")
        return without_shadow(site)
    return site


def named_site(options: Namespace) -> str:
    """Return the whole path of the site file, or nothing for the demonstration site."""
    return "" if options.site is None else str(Path(options.site).resolve())
