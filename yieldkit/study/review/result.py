"""What a review of a plant's log found, as plain values and one Dataset."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import pandas as pd
import xarray as xr

from yieldkit.base.display import Card, short_name
from yieldkit.base.plain_text import plain_line
from yieldkit.study.logs.plant_log import COUNTED

SHADOW, CLOCK, TILT, AZIMUTH = "shadow", "clock", "tilt", "azimuth"
DIRT, DIRT_BY_RAIN, SUBSTRING, STRING = "dirt", "dirt by rain", "substring", "string"
NOTHING, OUTAGE, SENSOR, DRIFT = "nothing", "outage", "sensor", "drift"
HELD_BACK, LOSS, UNEXPLAINED = "held back", "loss", "unexplained"
KINDS = {
    SHADOW: "a shadow at some hours",
    CLOCK: "clocks that differ",
    TILT: "another tilt",
    AZIMUTH: "another azimuth",
    DIRT: "a dirty plane",
    DIRT_BY_RAIN: "dirt that rain washes off",
    SUBSTRING: "a dead substring",
    STRING: "a string that gives nothing",
    NOTHING: "an input that gives nothing",
    OUTAGE: "an inverter that stands still",
    SENSOR: "a sensor of light that is off",
    DRIFT: "a sensor of light that drifts",
    HELD_BACK: "power held back that shouldn't be",
    LOSS: "a loss since some month",
    UNEXPLAINED: "none of these",
}
"""Kinds of causes, in words."""


class Span(NamedTuple):
    """A number that was estimated.

    Parameters
    ----------
    value : float
        Best estimate; nan where the log doesn't tell.
    low, high : float
        Bounds that hold nine of ten.
    """

    value: float
    low: float
    high: float


class Sign(NamedTuple):
    """Something to look at, with the cause that its shape names.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    subject : str
        The input, plane, inverter or sensor that it is of; "all inputs" where all share it.
    words : str
        A sentence: what it looks like, where and when it shows, how large, how sure.
    look : str
        A sentence: what to look at, or to do, first.
    hours : tuple of int
        Hours of the day in which it shows, by local standard time, 16 being 16:00 to 17:00;
        empty where all hours show it.
    months : tuple of str
        Months in which it shows, such as "2026-05"; empty where all months show it.
    size : Span
        How large, in `unit`.
    unit : str
        "min", "deg", "%" of the power, "V", "h" or "W".
    deviations : float
        How far it lies from nothing [standard deviations]; inf where it was counted, not
        estimated.
    lost_kwh : float
        What it took (DC, in the steps that count) [kWh]; negative where the plant gave more, nan
        where nobody can say.
    """

    kind: str
    subject: str
    words: str
    look: str
    hours: tuple[int, ...]
    months: tuple[str, ...]
    size: Span
    unit: str
    deviations: float
    lost_kwh: float


class Plateau(NamedTuple):
    """The power at which an input, or an inverter's AC side, is held.

    Parameters
    ----------
    subject : str
        The input or inverter.
    power_w : float
        Power at which the log goes flat [W]; nan where it never does.
    limit_w : float
        What the site lets expect [W]; nan where it names no limit that is reached.
    hours : float
        How long it was held [h].
    words : str
        A sentence.
    """

    subject: str
    power_w: float
    limit_w: float
    hours: float
    words: str


class Resistance(NamedTuple):
    """What an inverter's terminals see of the way to the stiff network.

    Parameters
    ----------
    inverter : str
        The inverter.
    found : Span
        By the log's volts and power, of a phase's loop [ohm]; nan where it doesn't tell.
    expected : float
        By the site: leads and network up to a stiff voltage [ohm].
    lead : float
        The part of it that is the leads' [ohm].
    words : str
        A sentence.
    """

    inverter: str
    found: Span
    expected: float
    lead: float
    words: str


class Loss(NamedTuple):
    """One loss that, taken off everything expected, gives the energy that was measured.

    Parameters
    ----------
    subject : str
        The input; "all inputs" for all of them together.
    percent : Span
        [%]; negative where more was measured than expected.
    """

    subject: str
    percent: Span


@dataclass(frozen=True)
class Review:
    """What `review` found.

    Parameters
    ----------
    site, wiring, log : str
        What they are called.
    data : Dataset
        Dimensions: `month` (such as "2026-05", by local standard time), `tracker` (inputs),
        `inverter`, `hour` (0 to 23, local standard time, start), `reason` (of `REASONS`), `bound`
        ("low", "high"). nan where nothing counts. Each variable has `units` and `long_name`.

        - `dc_measured`, `dc_expected` [kWh] (month, tracker), `dc_ratio` [1], and `dc_band` [1]
          (month, tracker, bound), outside which the ratio is to worry about: where 99 of 100 right
          plants' ratios lie.
        - `ac_measured`, `ac_expected` [kWh] (month, inverter), `ac_ratio`, `ac_band` alike; of
          steps in which all inputs of the inverter count.
        - `pr`, `pr_stc` [1] (month), `pr_expected`, `pr_stc_expected`: performance ratio of all
          inverters by IEC 61724-1 and the same at 25 degC; `pr_band`, `pr_stc_band` (month,
          bound): where 99 of 100 right plants lie. `pr_irradiation` [kWh/m2] (month): Y_r.
        - `hours` [h] (month, tracker, reason): how long each reason held; they add up to all hours
          of the log. `coverage` [1] (month, tracker): share of the daylight hours that counts.
        - `hour_ratio` [1] (hour, tracker) and `hour_band` (hour, tracker, bound): measured over
          expected by the hour; `month_hour_ratio` (month, hour, tracker), and
          `month_hour_expected` [kWh] (month, hour, tracker) that it rests on.
        - `year_ratio` [1] (tracker), `year_band` (tracker, bound): all months together.
        - `between` [1] (tracker, other), `between_band` (tracker, other, bound): one input's ratio
          over another's, in steps where both count.

        Of a log without any DC values `hour_ratio` is that of the inverter's AC power for all its
        inputs, and what else is of inputs is nan.

        Attributes: `site`, `wiring`, `log`, `time_zone`, `utc_offset_s`, `interval_s`, `light`
        (what light the expectation rests on), `rated_kw` (P0 of what is wired), `from`, `to`.
    signs : tuple of Sign
        What to look at, that which takes most first; empty where nothing looks wrong.
    plateaus : tuple of Plateau
        Of each input and each inverter's AC side.
    resistances : tuple of Resistance
        Of each inverter whose AC volts and power were written; else empty.
    losses : tuple of Loss
        Of each input, and of all.
    rests_on : tuple of str
        On what the expectation and its bands rest, in sentences.
    remarks : tuple of str
        What must be told of the log beside all figures, in sentences.
    """

    site: str
    wiring: str
    log: str
    data: xr.Dataset
    signs: tuple[Sign, ...] = ()
    plateaus: tuple[Plateau, ...] = ()
    resistances: tuple[Resistance, ...] = ()
    losses: tuple[Loss, ...] = ()
    rests_on: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()

    def __repr__(self) -> str:
        return self._card().text()

    def _repr_html_(self) -> str:
        return self._card().html()

    def _card(self) -> Card:
        rows = [(own.kind, own.words) for own in self.signs[:6]]
        rows += [
            ("loss", f"{own.subject}: {own.percent.value:+.1f} %")
            for own in self.losses
            if own.percent.value == own.percent.value
        ][-1:]
        hint = (
            "Ask it for .months, .by_hour, .hours, .signs, .plateaus, .resistances, .losses, "
            ".rests_on, .remarks."
        )
        title = f"'{short_name(self.wiring)}' of '{short_name(self.site)}': {self.answer}"
        return Card(title, tuple(rows), hint)

    @property
    def answer(self) -> str:
        """What to look at first, in a sentence."""
        unread = ""
        if self.unread:
            names = "; ".join(plain_line(name) for name in self.unread)
            unread = f" NOT CHECKED, for no step of them counts: {names}."
        if not self.signs:
            said = (
                "nothing that counts in the log looks wrong; what its bands can't tell stays open."
            )
            return f"{said}{unread}"
        return f"{plain_line(self.signs[0].words)}{unread}"

    @property
    def unread(self) -> tuple[str, ...]:
        """Inputs of which no step counts: they are NOT CHECKED."""
        counted = self.data["hours"].sel(reason=COUNTED).sum("month").to_numpy()
        return tuple(str(name) for name in self.data["tracker"].to_numpy()[counted == 0.0])

    @property
    def months(self) -> pd.DataFrame:
        """Energy of all inverters by month [kWh] with ratio, band, PR and PR'STC [1].

        Where no AC power was written the energies are those of the inputs.
        """
        side = "ac" if "ac_measured" in self.data else "dc"
        of = "inverter" if side == "ac" else "tracker"
        measured, expected = (
            self.data[f"{side}_{name}"].sum(of, min_count=1).to_series()
            for name in ("measured", "expected")
        )
        table = pd.DataFrame({"measured_kwh": measured, "expected_kwh": expected})
        for name in ("pr", "pr_expected", "pr_stc", "pr_stc_expected"):
            table[name] = self.data[name].to_series()
        return table

    @property
    def by_hour(self) -> pd.DataFrame:
        """Measured over expected energy by hour of the day (rows) and input (columns) [1]."""
        found = self.data["hour_ratio"].transpose("hour", "tracker")
        heads = (found.indexes["hour"], found.indexes["tracker"])
        return pd.DataFrame(found.to_numpy(), *heads)

    @property
    def hours(self) -> pd.DataFrame:
        """How long each reason held, by month and input (rows) [h]."""
        found = self.data["hours"].stack(row=("month", "tracker")).transpose("row", "reason")
        index = pd.MultiIndex.from_tuples(found.indexes["row"], names=("month", "tracker"))
        return pd.DataFrame(found.to_numpy(), index, self.data["reason"].to_numpy())
