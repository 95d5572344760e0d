"""Is the weather this place's? The file's station against the site, and whose sun is used."""

from __future__ import annotations

from typing import Any, NamedTuple

import xarray as xr

from yieldkit.base.errors import refuse
from yieldkit.config.site.site import Site
from yieldkit.physics.irradiance.distance import great_circle_km
from yieldkit.study.simulation.measured import refuse_unknown_planes

NEAR_KM, FAR_KM = 50.0, 200.0
"""Weather from farther away than the first is told of, from farther than the second refused;
common practice, no source."""
LEVEL_M = 200.0
"""Larger differences of height are told of; common practice, no source."""


class SunPlace(NamedTuple):
    """Where the sun of a site's weather is looked at.

    Parameters
    ----------
    latitude, longitude : float
        [deg].
    altitude_m : float
        [m].
    remark : str
        What is to be said of the station beside every result, empty if nothing.
    distance_km : float
        From station to site; nan where the file names no station.
    """

    latitude: float
    longitude: float
    altitude_m: float
    remark: str
    distance_km: float


def sun_place(site: Site, weather: xr.Dataset) -> SunPlace:
    """Compare a weather file's station with the site, and say whose sun is used.

    Parameters
    ----------
    site : Site
        The site; with `weather.moved` the whole sun is the station's, while the planes stay the
        site's.
    weather : Dataset
        Canonical weather.

    Raises
    ------
    InputError
        For measurements of planes that aren't the site's; for a station too far away that was not
        moved on purpose, or moved across the equator.
    """
    refuse_unknown_planes(site, weather)
    place, attrs = site.site, weather.attrs
    own = (place.latitude, place.longitude, place.altitude_m)
    if not attrs.get("station_named", "latitude" in attrs):
        return SunPlace(*own, _unnamed(site), float("nan"))
    station = (attrs["latitude"], attrs["longitude"], attrs["altitude_m"])
    km = great_circle_km(*own[:2], *station[:2])
    higher = station[2] - own[2]
    crosses = own[0] * station[0] < 0.0
    if (site.weather.moved and crosses) or (km > FAR_KM and (crosses or not site.weather.moved)):
        _refuse_far(site, attrs, km, crosses)
    if site.weather.moved:
        return SunPlace(*station, _moved(site, attrs, km, higher), km)
    far, steep = km > NEAR_KM, abs(higher) > LEVEL_M
    return SunPlace(*own, _apart(site, attrs, km, higher) if far or steep else "", km)


def _spot(latitude: float, longitude: float, altitude_m: float) -> str:
    return (
        f"{abs(latitude):.4g} {'N' if latitude >= 0 else 'S'} "
        f"{abs(longitude):.5g} {'E' if longitude >= 0 else 'W'}, {altitude_m:.0f} m"
    )


def _both(site: Site, attrs: dict[str, Any], km: float) -> str:
    place = site.site
    station = _spot(attrs["latitude"], attrs["longitude"], attrs["altitude_m"])
    own = _spot(place.latitude, place.longitude, place.altitude_m)
    return f"a station at {station}, {km:,.0f} km from the site at {own}"


def _higher(higher: float) -> str:
    if abs(higher) <= LEVEL_M:
        return ""
    return f" and {abs(higher):,.0f} m {'above' if higher > 0.0 else 'below'} it"


def _apart(site: Site, attrs: dict[str, Any], km: float, higher: float) -> str:
    return (
        f"CAUTION: the weather is of {_both(site, attrs, km)}{_higher(higher)}: sun, clouds and "
        "temperature there may differ. Weather of the place itself is better."
    )


def _moved(site: Site, attrs: dict[str, Any], km: float, higher: float) -> str:
    return (
        f"CAUTION: weather moved on purpose (weather.moved): it is of {_both(site, attrs, km)}"
        f"{_higher(higher)}. The whole sun and the clock are the station's; tilt and azimuth of "
        "the planes are the site's."
    )


def _unnamed(site: Site) -> str:
    dead = " weather.moved changes nothing then." if site.weather.moved else ""
    return (
        "The weather file names no station: it is taken to be of this place, which nobody can "
        f"check.{dead}"
    )


def _refuse_far(site: Site, attrs: dict[str, Any], km: float, crosses: bool) -> None:
    named = attrs.get("source") or attrs.get("title") or "weather"
    remedy = (
        "Name a weather file of your place in weather.file (and its weather.format), or correct "
        "site.latitude and site.longitude"
    )
    if not crosses:
        remedy += (
            "; to use that station's weather and sun for your planes all the same write "
            "weather.moved: true"
        )
    else:
        remedy += "; across the equator seasons and the sun's path are turned round, moved or not"
    refuse(
        f"{named}, station",
        _both(site, attrs, km),
        "a station on the same side of the equator"
        if crosses and km <= FAR_KM
        else f"weather from within {FAR_KM:g} km of the site",
        cause="Was the place in the site file changed and its weather left as it was? Or latitude "
        "and longitude swapped, or a sign lost?",
        remedy=remedy,
    )
