"""The site a command works on."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from pathlib import Path

from yieldkit.cli.speech import caution, note
from yieldkit.config.reading.yaml import read_yaml
from yieldkit.config.site.site import Site
from yieldkit.design.checks.shade import WHY_IDLE
from yieldkit.design.roof.scene import idle_obstacles, without_obstacles
from yieldkit.study.simulation.weather_questions import asked_site


def chosen_site(options: Namespace) -> Site:
    """Return the site that was named, or the demonstration site, and say so."""
    if options.site is None:
        note("No site file given: using the demonstration site (invented).")
    site = asked_site(options.site)
    if getattr(options, "without_obstacles", False):
        note("Without obstacles: every module is taken to have the light of its plane.")
        return without_obstacles(site)
    caution(_of_obstacles(options.site, site))
    return site


def _of_obstacles(path: str | None, site: Site) -> Iterator[str]:
    """Give what must be known of obstacles that stand where they shade nothing."""
    idle = idle_obstacles(site)
    if not idle or path is None:
        return
    content = read_yaml(Path(path))
    for at in idle:
        where = content.where(("obstacles", at))
        yield f"{where}: obstacle '{site.obstacles[at].name}' shades nothing. {WHY_IDLE}"


def named_site(options: Namespace) -> str:
    """Return the whole path of the site file, or nothing for the demonstration site."""
    return "" if options.site is None else str(Path(options.site).resolve())
