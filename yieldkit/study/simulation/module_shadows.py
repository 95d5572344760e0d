"""What shadows take from each module, and the days on which they take most."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from yieldkit.base.arrays import FloatArray
from yieldkit.config.site.site import Wiring
from yieldkit.study.simulation.in_light import module_numbers, with_places
from yieldkit.study.simulation.month_weights import weighed
from yieldkit.study.simulation.period import local_times
from yieldkit.study.simulation.prepare import Prepared

_DAYS = 5
_SHARE_OF_DAY = 0.05
_LEAST_KWH = 0.05
"""Planes that lose less than this are not told [kWh]."""


class ShadedModules(NamedTuple):
    """The modules of one plane that something shades.

    Parameters
    ----------
    plane : str
        Its name.
    lost_kwh : tuple of float
        What shadows take from each module at the maxima of its cell groups, in the order of the
        plane's places [kWh].
    without_kwh : float
        What a module would give without them [kWh].
    """

    plane: str
    lost_kwh: tuple[float, ...]
    without_kwh: float


class ShadedDay(NamedTuple):
    """A day on which shadows take much.

    Parameters
    ----------
    date : str
        Year, month and day by local standard time.
    lost_kwh : float
        What they take from all modules [kWh].
    begin, end : str
        From when to when: steps with less than a twentieth of the day's worst are left out.
    """

    date: str
    lost_kwh: float
    begin: str
    end: str


class Shadows(NamedTuple):
    """What shadows take from a site's modules, wherever these are wired.

    Parameters
    ----------
    planes : tuple of ShadedModules
        The planes that something shades.
    days : tuple of ShadedDay
        The worst days, the worst first.
    hours_kwh : tuple of float
        What they take in each hour of the day, local standard time [kWh] (24,).
    strings : tuple
        Wiring and, for each of the planes, the number of the string that each module hangs in,
        counted from 1 through all inputs; 0 for modules that aren't wired.
    """

    planes: tuple[ShadedModules, ...]
    days: tuple[ShadedDay, ...]
    hours_kwh: tuple[float, ...]
    strings: tuple[tuple[str, tuple[tuple[int, ...], ...]], ...]


def shadows_of(prepared: Prepared, wirings: Sequence[Wiring]) -> Shadows | None:
    """Return what shadows take from a site's modules; None where nothing shades any.

    Parameters
    ----------
    prepared : Prepared
        What the wirings share.
    wirings : sequence of Wiring
        Those whose strings are to be told.
    """
    planes, places = [], []
    lost = np.zeros(prepared.present.size)
    hours = prepared.step_hours / 1000.0
    for at, shaded in enumerate(prepared.shaded):
        if shaded is None:
            continue
        own = prepared.site.planes[at]
        without = float(prepared.module_stages[-1, at])
        each = without - shaded.at_darkest * hours
        if each.sum() < _LEAST_KWH:
            continue
        planes.append(ShadedModules(own.name, tuple(float(kwh) for kwh in each), without))
        places.append(at)
        bare = own.modules * prepared.planes["p_mp_module"].to_numpy()[:, at]
        taken = weighed((bare - shaded.power) * hours, prepared.weights)
        lost += np.where(prepared.present, taken, 0.0)
    if not planes:
        return None
    times = local_times(prepared.weather)
    return Shadows(
        planes=tuple(planes),
        days=_worst_days(lost, times, prepared.interval_s),
        hours_kwh=tuple(float(lost[times.hour == hour].sum()) for hour in range(24)),
        strings=tuple((wiring.name, _strings(prepared, wiring, places)) for wiring in wirings),
    )


def _worst_days(
    lost: FloatArray, times: pd.DatetimeIndex, interval_s: float
) -> tuple[ShadedDay, ...]:
    """Return the days on which most is lost, and between which hours."""
    series = pd.Series(lost, index=times)
    dates = times.normalize()
    daily = series.groupby(dates).sum().nlargest(_DAYS)
    found = []
    for day, kwh in daily.items():
        own = series[dates == day]
        much = own.index[own.to_numpy() >= _SHARE_OF_DAY * own.max()]
        end = much[-1] + pd.Timedelta(seconds=interval_s)
        clock = "24:00" if end.normalize() > much[-1].normalize() else f"{end:%H:%M}"
        found.append(ShadedDay(f"{much[0]:%Y-%m-%d}", float(kwh), f"{much[0]:%H:%M}", clock))
    return tuple(day for day in found if day.lost_kwh > 0.0)


def _strings(
    prepared: Prepared, wiring: Wiring, places: Sequence[int]
) -> tuple[tuple[int, ...], ...]:
    """Return the number of the string that each module of some planes hangs in."""
    planes = [prepared.site.planes[at] for at in places]
    numbers = {plane.name: [0] * plane.modules for plane in planes}
    number = 0
    for tracker in with_places(prepared, wiring).trackers:
        for string in tracker.strings:
            number += 1
            for group in string.groups:
                for module in module_numbers(prepared, group) if group.plane in numbers else ():
                    numbers[group.plane][module] = number
    return tuple(tuple(numbers[plane.name]) for plane in planes)


def plain_shadows(shadows: Shadows | None) -> dict[str, Any] | None:
    """Return what shadows take as plain values for JSON."""
    if shadows is None:
        return None
    return shadows._asdict() | {
        "planes": [each._asdict() for each in shadows.planes],
        "days": [each._asdict() for each in shadows.days],
    }


def shadows_from(content: dict[str, Any] | None) -> Shadows | None:
    """Return what `plain_shadows` made plain."""
    if content is None:
        return None
    planes = (each | {"lost_kwh": tuple(each["lost_kwh"])} for each in content["planes"])
    return Shadows(
        planes=tuple(ShadedModules(**each) for each in planes),
        days=tuple(ShadedDay(**each) for each in content["days"]),
        hours_kwh=tuple(content["hours_kwh"]),
        strings=tuple(
            (name, tuple(tuple(plane) for plane in planes)) for name, planes in content["strings"]
        ),
    )
