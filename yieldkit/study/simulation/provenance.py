"""What a result was made from: versions, hashes, weather and the clock's verdict."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from functools import cache
from importlib import metadata
from typing import Any

import xarray as xr

from yieldkit.config.site.site import Site
from yieldkit.study.simulation.weather import weather_cautions

_WEATHER = (
    "weather_title",
    "weather_source",
    "weather_attribution",
    "weather_sha256",
    "weather_sampling",
    "weather_label",
    "weather_clock",
    "weather_cautions",
    "time_zone",
    "utc_offset_s",
    "interval_s",
)
_NAMES = {"candidates_sha256": "set of constraints"}
_PACKAGES = ("yieldkit", "pvlib", "numpy", "scipy", "xarray", "numba")


def provenance(site: Site, weather: xr.Dataset) -> dict[str, str | int | float]:
    """Return attributes that say where a result comes from.

    Parameters
    ----------
    site : Site
        The site; its content is hashed.
    weather : Dataset
        The weather used.

    Returns
    -------
    dict
        Site and weather hashes, package versions, sampling, zone, the clock check's words and
        what else is to be known of the weather, a sentence a line.
    """
    attrs = weather.attrs
    quality = json.loads(attrs["quality"]) if attrs.get("quality") else {}
    return {
        "site_sha256": site_hash(site),
        "weather_title": attrs.get("title", ""),
        "weather_source": attrs.get("source", ""),
        "weather_attribution": attrs.get("attribution", ""),
        "weather_sha256": attrs.get("sha256", ""),
        "weather_sampling": attrs["sampling"],
        "weather_label": attrs["label"],
        "weather_clock": quality.get("clock_text", ""),
        "weather_cautions": "\n".join(weather_cautions(weather)),
        "time_zone": attrs["time_zone"],
        "utc_offset_s": int(attrs["utc_offset_s"]),
        "interval_s": int(attrs["interval_s"]),
        "versions": versions(),
    }


def site_hash(site: Site) -> str:
    """Return the SHA-256 of a site's content.

    Parameters
    ----------
    site : Site
        The site.
    """
    content = json.dumps(site.model_dump(mode="json"), sort_keys=True)
    return hashlib.sha256(content.encode()).hexdigest()


def other_origin(attrs: Mapping[str, Any], wanted: Mapping[str, Any]) -> str:
    """Return in a word what a result was made from that is not what is wanted; "" if nothing.

    Parameters
    ----------
    attrs : mapping
        Attributes of a result, `provenance` among them.
    wanted : mapping
        What `provenance` gives for what is asked, and further attributes by their names.
    """
    differing = [key for key, value in wanted.items() if attrs.get(key) != value]
    if not differing:
        return ""
    if "versions" in differing:
        return "version"
    if "site_sha256" in differing:
        return "site"
    others = [key for key in differing if key not in _WEATHER]
    return _NAMES.get(others[0], others[0]) if others else "weather"


@cache
def versions() -> str:
    """Return the versions of what computes, as JSON."""
    return json.dumps({name: metadata.version(name) for name in _PACKAGES})
