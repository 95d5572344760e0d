"""A plant's log as arrays on one clock: what was written down, and what of it doesn't count."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import BoolArray, IntArray
from yieldkit.base.display import Card, some_names

COUNTED = "counted"
NIGHT, DARK = "night", "too little light to tell"
MISSING, AMBIGUOUS = "no value written", "an hour written twice"
IMPOSSIBLE, FROZEN, COPIED = "impossible value", "frozen value", "copy of another input"
CLIPPED, LIMITED = "held at the inverter's AC limit", "held back by another limit"
STANDING = "all inputs of the inverter stand still"
REASONS = (
    COUNTED,
    NIGHT,
    DARK,
    MISSING,
    AMBIGUOUS,
    IMPOSSIBLE,
    FROZEN,
    COPIED,
    CLIPPED,
    LIMITED,
    STANDING,
)
"""Why a step of an input doesn't count, by its code; the first one means that it does."""


class ClockOffset(NamedTuple):
    """By how much a log's clock is ahead on a day.

    Parameters
    ----------
    day : str
        The day by the log's standard time, such as 2026-05-02.
    minutes : float
        Positive where the log writes a later time than it is [min].
    low, high : float
        Span that holds nine times of ten [min].
    """

    day: str
    minutes: float
    low: float
    high: float


@dataclass(frozen=True)
class PlantLog:
    """What a plant's inverters and sensors wrote down.

    Parameters
    ----------
    name : str
        The file, or what it is called.
    data : Dataset
        `v_dc` [V], `i_dc` [A] and `p_dc` [W] (time, tracker), `v_ac` [V] (phase to neutral) and
        `p_ac` [W] (time, inverter), as far as they were written, means over a step, nan where
        nothing was; `left_out` (time, tracker), the position in `REASONS`. `time` is naive UTC, the
        start of each step; the attributes have `interval_s`, `utc_offset_s` and `time_zone`.
        `tracker` holds the names that `Site.input_name` gives, in the wiring's order.
    weather : Dataset or None
        Light, temperatures and wind that were written with it, as canonical weather of the same
        steps; None where no light was.
    clock : tuple of ClockOffset
        What its clock is ahead, by the day; empty where that wasn't looked at.
    remarks : tuple of str
        What must be told of it, in sentences.
    """

    name: str
    data: xr.Dataset
    weather: xr.Dataset | None = None
    clock: tuple[ClockOffset, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def counted(self) -> BoolArray:
        """Which steps of which input count (time, tracker)."""
        found: BoolArray = self.data["left_out"].to_numpy() == REASONS.index(COUNTED)
        return found

    def leaving_out(self, reasons: Mapping[str, BoolArray], *remarks: str) -> PlantLog:
        """Return the log with more left out; what is left out already keeps its reason.

        Parameters
        ----------
        reasons : mapping of str to ndarray of bool
            Reason out of `REASONS`, and where it holds (time, tracker); the first counts.
        *remarks : str
            What must be told of it.
        """
        codes: IntArray = self.data["left_out"].to_numpy().copy()
        for reason, there in reasons.items():
            codes[there & (codes == REASONS.index(COUNTED))] = REASONS.index(reason)
        dims = ("time", "tracker")
        data = self.data.assign(left_out=(dims, codes.astype(np.int8), {"units": "1"}))
        return replace(self, data=data, remarks=(*self.remarks, *remarks))

    def left_out_hours(self) -> dict[str, dict[str, float]]:
        """Return for each input how long each reason held, in hours; reasons that held at all."""
        codes = self.data["left_out"].to_numpy()
        hours = float(self.data.attrs["interval_s"]) / 3600.0
        return {
            str(name): {
                reason: float(np.count_nonzero(codes[:, at] == code)) * hours
                for code, reason in enumerate(REASONS)
                if code and (codes[:, at] == code).any()
            }
            for at, name in enumerate(self.data["tracker"].to_numpy())
        }

    def __repr__(self) -> str:
        return _card(self).text()

    __str__ = __repr__

    def _repr_html_(self) -> str:
        return _card(self).html()


_WORDS = {"v_dc": "V", "i_dc": "I", "p_dc": "P", "v_ac": "V (AC)", "p_ac": "P (AC)"}


def _card(log: PlantLog) -> Card:
    """Return what a log says of itself."""
    data = log.data
    step = pd.Timedelta(seconds=float(data.attrs["interval_s"]))
    local = pd.DatetimeIndex(data.indexes["time"])
    local += pd.Timedelta(seconds=float(data.attrs.get("utc_offset_s", 0.0)))
    zone = data.attrs.get("time_zone", "UTC")
    inputs = [str(name) for name in data["tracker"].to_numpy()]
    written = [word for name, word in _WORDS.items() if name in data]
    hours = step / pd.Timedelta(hours=1)
    counted = {name: int(n) for name, n in zip(inputs, log.counted.sum(axis=0), strict=True)}
    rows = (
        ("from", f"{local[0]:%Y-%m-%d %H:%M} to {local[-1] + step:%Y-%m-%d %H:%M} ({zone})"),
        ("steps", f"{len(local):,} of {step / pd.Timedelta(minutes=1):g} min"),
        ("inputs", f"{some_names(inputs)}: {', '.join(written)}"),
        ("counts", "; ".join(f"{name} {n * hours:,.1f} h" for name, n in counted.items())),
        ("left out", _left_out(log)),
        ("weather", _weather(log.weather)),
        *((("clock", f"looked at on {len(log.clock)} days"),) if log.clock else ()),
        *(
            (("remarks", f"{len(log.remarks)}, the first: {log.remarks[0]}"),)
            if log.remarks
            else ()
        ),
    )
    hint = "Ask it for .left_out_hours(), .remarks, .data, .weather."
    return Card(f"Log {log.name}", rows, hint)


def _left_out(log: PlantLog) -> str:
    """Return for each reason how long it held, for the input of which it held longest."""
    most: dict[str, float] = {}
    for by_reason in log.left_out_hours().values():
        for reason, hours in by_reason.items():
            most[reason] = max(most.get(reason, 0.0), hours)
    told = "; ".join(f"{reason} {hours:,.1f} h" for reason, hours in most.items())
    return f"{told} (of the input that lacks most)" if told else "nothing"


def _weather(weather: xr.Dataset | None) -> str:
    if weather is None:
        return "none of its own"
    own = [str(name) for name in weather.data_vars if str(name) != "filled"]
    return ", ".join(own)
