"""Times of a log as they stand in its rows, brought to UTC; an hour written twice told apart."""

from __future__ import annotations

from typing import NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from yieldkit.base.arrays import BoolArray
from yieldkit.base.errors import refuse
from yieldkit.base.time_zones import has_summer_time, utc_offset, wall_clock


class Clock(NamedTuple):
    """How a log's clock goes.

    Parameters
    ----------
    zone : str
        As the description has it.
    wall : bool or None
        Whether it has summer time; None where the description doesn't say.
    label : str
        "start", "middle" or "end".
    where_zone, where_clock : str
        Their places in the description.
    """

    zone: str
    wall: bool | None
    label: str
    where_zone: str
    where_clock: str

    @property
    def utc_offset_s(self) -> int:
        """Standard time's offset from UTC [s]."""
        return utc_offset(self.zone, self.where_zone)


class Instants(NamedTuple):
    """What the times of a table are in UTC.

    Parameters
    ----------
    times : DatetimeIndex
        Naive UTC of each row; none (NaT) where it can't be told (row,).
    unclear : DatetimeIndex
        Naive UTC instants that some such row may mean.
    remarks : tuple of str
        What must be told.
    """

    times: pd.DatetimeIndex
    unclear: pd.DatetimeIndex
    remarks: tuple[str, ...] = ()


_NONE = pd.DatetimeIndex([], dtype="datetime64[ns]")


def instants(stamps: pd.DatetimeIndex, clock: Clock, where: str) -> Instants:
    """Return a table's times in UTC.

    Parameters
    ----------
    stamps : DatetimeIndex
        As written, in the order of the rows; in UTC where they carried a zone.
    clock : Clock
        How the clock goes.
    where : str
        File, for errors and what is told.

    Raises
    ------
    InputError
        If it isn't said whether a zone's summer time counts, or for times that a clock on the
        wall never shows.
    """
    if stamps.tz is not None:
        return Instants(stamps.tz_convert("UTC").tz_localize(None).as_unit("ns"), _NONE)
    stamps = stamps.as_unit("ns")
    if clock.wall is None and has_summer_time(clock.zone):
        refuse(
            clock.where_zone,
            f"{clock.zone}, a zone with summer time, and times without an offset in {where}",
            "whether the log's clock is put forward in spring",
            remedy="Write clock: wall if it is, clock: standard if the log keeps standard time",
        )
    if not clock.wall:
        return Instants(stamps - pd.Timedelta(seconds=clock.utc_offset_s), _NONE)
    zone = wall_clock(clock.zone, clock.where_clock)
    return _from_wall_clock(stamps, zone, clock, where)


def _from_wall_clock(
    stamps: pd.DatetimeIndex, zone: ZoneInfo, clock: Clock, where: str
) -> Instants:
    """Return UTC of a clock that skips an hour in spring and shows one twice in autumn."""
    summer = _localized(stamps, zone, True)
    winter = _localized(stamps, zone, False)
    skipped = np.asarray(summer.isna()) & ~np.asarray(stamps.isna())
    if skipped.any():
        summer = _closing_the_gap(stamps, summer, skipped, zone, clock, where)
        winter = _either(skipped, summer, winter)
    double = np.asarray(summer != winter) & ~np.asarray(stamps.isna())
    if not double.any():
        return Instants(summer, _NONE)
    first, unclear = _by_order(stamps, double)
    times = _either(~double | first, summer, winter)
    times = pd.DatetimeIndex(np.where(unclear, np.datetime64("NaT", "ns"), times.to_numpy()))
    either = pd.DatetimeIndex(
        np.unique(np.concatenate([each[unclear].to_numpy() for each in (summer, winter)]))
    )
    remarks = []
    days = sorted({f"{day:%Y-%m-%d}" for day in stamps[double & ~unclear]})
    if days:
        remarks.append(
            f"{where}: the hour that the clock shows twice on {', '.join(days)} is told apart by "
            "the order of the rows: the first is summer time."
        )
    days = sorted({f"{day:%Y-%m-%d}" for day in stamps[unclear]})
    if days:
        remarks.append(
            f"{where}: {int(unclear.sum())} rows of the hour that the clock shows twice on "
            f"{', '.join(days)} can't be told apart and are left out."
        )
    return Instants(times, either, tuple(remarks))


def _localized(stamps: pd.DatetimeIndex, zone: ZoneInfo, summer: bool) -> pd.DatetimeIndex:
    which = np.full(len(stamps), summer)
    local = stamps.tz_localize(zone, ambiguous=which, nonexistent="NaT")
    return local.tz_convert("UTC").tz_localize(None)


def _either(first: BoolArray, one: pd.DatetimeIndex, other: pd.DatetimeIndex) -> pd.DatetimeIndex:
    return pd.DatetimeIndex(np.where(first, one.to_numpy(), other.to_numpy()))


def _closing_the_gap(
    stamps: pd.DatetimeIndex,
    found: pd.DatetimeIndex,
    skipped: BoolArray,
    zone: ZoneInfo,
    clock: Clock,
    where: str,
) -> pd.DatetimeIndex:
    """Return times with the end of the last step before the skipped hour; refuse those inside."""
    moment = pd.Timedelta(nanoseconds=1)
    before = _localized(stamps - moment, zone, True) + moment
    ends = skipped & ~np.asarray(before.isna()) & (clock.label == "end")
    inside = skipped & ~ends
    if inside.any():
        refuse(
            where,
            f"{stamps[inside][0]:%Y-%m-%d %H:%M}, which a clock on the wall skips in spring",
            "times that such a clock shows",
            cause="Standard time all year?",
            remedy="Write clock: standard into the log's description",
        )
    return _either(ends, before, found)


def _by_order(stamps: pd.DatetimeIndex, double: BoolArray) -> tuple[BoolArray, BoolArray]:
    """Return which of the rows of an hour shown twice are of the first, and which may be either.

    Rows that run through the hour twice, in a table that is otherwise in order (or in the reverse
    order), are told apart by it.
    """
    first = np.zeros(len(stamps), dtype=bool)
    unclear = np.zeros(len(stamps), dtype=bool)
    others = np.diff(stamps[~double & ~np.asarray(stamps.isna())].asi8)
    rising, falling = bool((others >= 0).all()), bool((others <= 0).all())
    days = stamps.normalize()
    for day in days[double].unique():
        at = np.flatnonzero(double & np.asarray(days == day))
        if falling and not rising:
            at = at[::-1]
        again = np.flatnonzero(np.diff(stamps[at].asi8) <= 0)
        if (rising or falling) and again.size == 1:
            first[at[: again[0] + 1]] = True
        else:
            unclear[at] = True
    return first, unclear
