"""What is assumed of dirt and of the modules' power, plane by plane, in sentences."""

from __future__ import annotations

import numpy as np
import xarray as xr

from yieldkit.config.models.dirt import DailySoiling
from yieldkit.config.models.planes import Plane
from yieldkit.config.site.site import Site
from yieldkit.study.simulation.snow import snow_sentences, snow_step_by_step
from yieldkit.study.simulation.soiling import soiling_share

_KIMBER = "Kimber et al. (2006), IEEE WCPEC; figures of its table read in pvlib"
_MISSING = {
    "rain": "count as dry",
    "snowfall": "count as none fallen",
    "snow_depth": "count as deep",
}
_DUST = "Coello and Boyle (2019), IEEE J. Photovolt. 9, 1382; velocities read in pvlib"


def plane_sentences(site: Site, weather: xr.Dataset) -> list[str]:
    """Return what is assumed of dirt and of the modules' power, one sentence each.

    Parameters
    ----------
    site : Site
        The site.
    weather : Dataset
        Canonical weather.
    """
    found = [_soiling(plane, weather) for plane in site.planes]
    clean = [plane.name for plane, text in zip(site.planes, found, strict=True) if not text]
    sentences = [text for text in found if text]
    if clean:
        sentences.append(
            f"No dirt on {', '.join(clean)}: the site file states none (2 % is common practice, no "
            "source)."
        )
    sentences += [*snow_sentences(site), *_initial_loss(site), *_fallen(site, weather)]
    return sentences


def _soiling(plane: Plane, weather: xr.Dataset) -> str:
    """Return how a plane gets dirty, empty where it stays clean."""
    from_rain = plane.soiling_from_rain
    if from_rain is not None:
        percent = 100.0 * np.asarray(soiling_share(plane, weather))
        how = (
            f"{from_rain.loss_percent_per_day:g} % more each day, washed off by "
            f"{from_rain.cleaning_rain_mm:g} mm in 24 hours, then none for "
            f"{from_rain.damp_days} days, {from_rain.most_loss_percent:g} % at most ({_KIMBER})"
            if isinstance(from_rain, DailySoiling)
            else f"dust of {from_rain.pm2_5_ug_m3:g} and {from_rain.pm10_ug_m3:g} ug/m3 (below 2.5 "
            f"and 10 micrometres), washed off by {from_rain.cleaning_rain_mm:g} mm within "
            f"{from_rain.rain_within_h} h ({_DUST})"
        )
        return (
            f"Dirt on {plane.name} from the weather's rain: {how}; {percent.min():.1f} to "
            f"{percent.max():.1f} % of the light, {percent.mean():.1f} % in the mean."
        )
    by_month = plane.soiling_by_month_percent
    if by_month is not None:
        return (
            f"Dirt on {plane.name} takes {min(by_month):g} to {max(by_month):g} % of the light, by "
            "month, as the site file states."
        )
    if plane.soiling_loss_percent:
        return (
            f"Dirt on {plane.name} takes {plane.soiling_loss_percent:g} % of the light, as the "
            "site file states."
        )
    return ""


def _initial_loss(site: Site) -> list[str]:
    """Return what the modules lose in their first hours of light."""
    stated = [plane for plane in site.planes if plane.initial_loss_percent]
    found = [
        f"Modules on {plane.name} lose {plane.initial_loss_percent:g} % of their power in their "
        "first hours of light, as the site file states."
        for plane in stated
    ]
    if not stated:
        found.append(
            "No initial loss of power by light: the site file states none (0 to 3 % by kind of "
            "cell; common practice, no source)."
        )
    return found


def _fallen(site: Site, weather: xr.Dataset) -> list[str]:
    """Return what was made of the weather's rain and snow."""
    snow = snow_step_by_step(site)
    used = {
        "rain": any(plane.soiling_from_rain is not None for plane in site.planes),
        "snowfall": snow,
        "snow_depth": snow,
    }
    found = []
    for name, is_used in used.items():
        if name not in weather:
            continue
        word = name.replace("_", " ")
        missing = int(np.isnan(weather[name].to_numpy()).sum())
        if not is_used:
            found.append(f"Read and not used: {word}.")
        elif missing:
            means = _MISSING[name]
            found.append(f"{missing:,} steps without {word} in the weather {means}.")
    return found
