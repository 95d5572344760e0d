"""What strings should show hour by hour below a cloudless sky, for who has no light sensor."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pandas as pd

from yieldkit.base.errors import refuse
from yieldkit.config.site.site import Site, Wiring
from yieldkit.study.handover.expected import cloudless_conditions, expected_readings
from yieldkit.study.handover.form import clock_of
from yieldkit.study.handover.meter import TEMP_AIR_C
from yieldkit.study.handover.names import named_strings

_LEAST_LIGHT = 200.0
"""Hours with less light on a string's plane are left out [W/m2]."""


@dataclass(frozen=True)
class CloudlessHour:
    """What a string should show at a full hour below a cloudless sky.

    Parameters
    ----------
    clock : str
        Time of day by the sheet's clock.
    poa_global : float
        In-plane irradiance [W/m2].
    v_oc, v_oc_low, v_oc_high : float
        Open-circuit voltage with its band [V].
    i_sc, i_sc_low, i_sc_high : float
        Short-circuit current with its band [A].
    """

    clock: str
    poa_global: float
    v_oc: float
    v_oc_low: float
    v_oc_high: float
    i_sc: float
    i_sc_low: float
    i_sc_high: float


def day_from(text: str, where: str) -> date:
    """Return a day as people write it on a command line.

    Parameters
    ----------
    text : str
        Such as "2026-06-21".
    where : str
        The option, for the error.

    Raises
    ------
    InputError
        If it is none.
    """
    try:
        return date.fromisoformat(text)
    except ValueError:
        refuse(where, f"'{text}'", "a day such as 2026-06-21")


def refuse_air(temp_air: float, where: str) -> None:
    """Refuse an air temperature that no place on earth has.

    Parameters
    ----------
    temp_air : float
        [degC].
    where : str
        The option, for the error.

    Raises
    ------
    InputError
        If it is none.
    """
    if not -60.0 <= temp_air <= 60.0:
        refuse(where, f"{temp_air:g} degC", "an air temperature from -60 to 60 degC")


def cloudless_day(
    site: Site, wiring: Wiring, day: date, temp_air: float = TEMP_AIR_C
) -> dict[str, tuple[CloudlessHour, ...]]:
    """Return what every string should show at the full hours of a day without a cloud, by name.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        One of its wirings.
    day : date
        The day by the sheet's clock.
    temp_air : float
        [degC].
    """
    clock = clock_of(site)
    zone = ZoneInfo(clock) if "/" in clock else timezone(timedelta(seconds=site.site.utc_offset_s))
    planes = [plane.name for plane in site.planes]
    strings = named_strings(site, wiring)
    found: dict[str, list[CloudlessHour]] = {one.name: [] for one in strings}
    for hour in range(24):
        local = datetime(day.year, day.month, day.day, hour, tzinfo=zone)
        under = cloudless_conditions(site, pd.Timestamp(local), temp_air)
        if under.poa_global.max() < _LEAST_LIGHT:
            continue
        at = {(own.subject, own.quantity): own for own in expected_readings(site, wiring, under)}
        for one in strings:
            own_planes = [planes.index(group.plane) for group in one.string.groups]
            light = float(under.poa_global[own_planes].min())
            if light < _LEAST_LIGHT:
                continue
            volts, amperes = at[one.name, "v_oc"], at[one.name, "i_sc"]
            found[one.name].append(
                CloudlessHour(
                    f"{hour:02d}:00",
                    float(under.poa_global[own_planes[0]]),
                    *volts[2:],
                    *amperes[2:],
                )
            )
    return {name: tuple(hours) for name, hours in found.items()}
