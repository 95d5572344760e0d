"""A site in a few lines, and the question whether something is a site at all."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from yieldkit.base.display import Card, short_name, some_names
from yieldkit.base.errors import refuse
from yieldkit.config.reading.wording import shown


def site_card(site: Any) -> Card:
    """Return what a site is, in a few lines.

    Parameters
    ----------
    site : Site
        The site.
    """
    place, inverters = site.site, site.each_inverter()
    planes = [
        f"{short_name(plane.name, 24)} ({plane.modules} modules, tilt {plane.tilt_deg:g}, "
        f"azimuth {plane.azimuth_deg:g} degrees)"
        for plane in site.planes
    ]
    described = [
        f"{short_name(one.name)}, inputs "
        f"{some_names([mppt.name for mppt in one.site.single_inverter.mppts])}"
        for one in inverters
    ]
    rows = (
        (
            "place",
            f"{place.latitude:g} degrees north, {place.longitude:g} east, {place.altitude_m:g} m, "
            f"{place.time_zone}",
        ),
        ("weather", f"{_weather_files(site)} ({site.weather.format})"),
        ("modules", some_names([module.name for module in site.module_types])),
        (_count("plane", planes), some_names(planes, 3, 100)),
        (_count("inverter", described).removeprefix("1 "), some_names(described, 3, 100)),
        (_count("wiring", site.wirings), some_names([each.name for each in site.wirings])),
    )
    invented = " (invented)" if site.invented and "invented" not in place.name else ""
    return Card(
        f"Site '{short_name(place.name)}'{invented}",
        rows,
        "Parts: site.planes, site.wirings ...; site.variant({...}) makes a changed one.",
    )


def _weather_files(site: Any) -> str:
    """Return what the weather files are called, without their folders."""
    return some_names([Path(file).name for file in site.weather.files])


def refuse_other_than_site(site: Any, kind: type) -> None:
    """Refuse what is no site, and say how one is made of a file.

    Parameters
    ----------
    site : object
        What was given.
    kind : type
        The class of sites.

    Raises
    ------
    InputError
        For anything else than a site.
    """
    if isinstance(site, kind):
        return
    if isinstance(site, str | Path):
        remedy = f"Read the file first: yieldkit.load_site({shown(str(site))})."
        refuse("site", f"the text {shown(str(site))}", "a Site", remedy=remedy)
    refuse(
        "site",
        f"an object of the type {type(site).__name__}",
        "a Site",
        remedy="yieldkit.load_site(file) makes one of a site file.",
    )


def _count(word: str, items: Any) -> str:
    return f"{len(items)} {word}{'' if len(items) == 1 else 's'}"
