"""A log beside what its site lets expect at the same steps, each with what counts of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.base.errors import refuse
from yieldkit.base.measured_planes import POA
from yieldkit.base.progress import silent
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.equipment.modules import module_power_stc
from yieldkit.study.logs.plant_log import PlantLog
from yieldkit.study.review.coarser import coarser
from yieldkit.study.simulation.measured import lies_in_plane
from yieldkit.study.simulation.prepare import Prepared, prepare, weather_sun
from yieldkit.study.simulation.simulate import Simulated, solved_wirings
from yieldkit.study.simulation.weather import site_weather
from yieldkit.weather.readers.on_planes import measured_columns

ON_PLANES, ON_SOME_PLANES, ON_THE_LEVEL, OF_THE_SITE = (
    "light measured on the planes",
    "light measured on planes, and reckoned for those on which none was measured",
    "light measured beside the log",
    "the site's own weather of the same time",
)
"""On what light an expectation rests."""
BRIGHT = 0.05
"""Expected power by rated power above which ratios are looked at by their shape [1]."""
DEAD = 0.02
"""Share of the expected power below which an input gives nothing [1]."""
_SAME = 0.995


@dataclass(frozen=True)
class Beside:
    """Measured and expected at the same steps.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        The wiring.
    log : PlantLog
        The log, with what is left out of it.
    weather : Dataset
        What the expectation is reckoned from (time).
    light : str
        On what light it rests: `ON_PLANES`, `ON_SOME_PLANES`, `ON_THE_LEVEL` or `OF_THE_SITE`.
    prepared : Prepared
        The site under that weather.
    simulated : Simulated
        The wiring under it.
    held : ndarray of bool or None
        Where the measured power is held at a plateau (time, tracker), which shapes are not to be
        read from.
    """

    site: Site
    wiring: Wiring
    log: PlantLog
    weather: xr.Dataset
    light: str
    prepared: Prepared
    simulated: Simulated
    held: BoolArray | None = None

    @property
    def hours(self) -> float:
        """Length of a step [h]."""
        return float(self.log.data.attrs["interval_s"]) / 3600.0

    @cached_property
    def local(self) -> pd.DatetimeIndex:
        """Starts of the steps by local standard time (time,)."""
        return local_times(self.log.data)

    @cached_property
    def names(self) -> tuple[str, ...]:
        """The inputs (tracker,)."""
        return tuple(str(each) for each in self.log.data["tracker"].to_numpy())

    @cached_property
    def month(self) -> IntArray:
        """Which of `months` each step belongs to (time,)."""
        periods = self.local.year * 12 + self.local.month - 1
        return np.asarray(periods - int(periods.min()), dtype=np.int64)

    @cached_property
    def months(self) -> tuple[str, ...]:
        """Months of the log, such as 2026-05, without gaps (month,)."""
        first = int(self.local[0].year) * 12 + int(self.local[0].month) - 1
        every = [divmod(first + at, 12) for at in range(int(self.month.max()) + 1)]
        return tuple(f"{year:04d}-{month + 1:02d}" for year, month in every)

    @cached_property
    def hour(self) -> IntArray:
        """Hour of the day by local standard time (time,)."""
        return self.local.hour.to_numpy().astype(np.int64)

    @cached_property
    def power(self) -> FloatArray:
        """Measured DC power [W] (time, tracker)."""
        return measured_power(self.log.data)

    @cached_property
    def expected(self) -> FloatArray:
        """Expected DC power [W] (time, tracker)."""
        return self.simulated.inputs.points.p_dc

    @cached_property
    def unheld(self) -> BoolArray:
        """Where nothing holds the expected power back (time, tracker)."""
        free = self.simulated.inputs.p_dc_available
        found: BoolArray = self.expected >= _SAME * free
        return found

    @cached_property
    def counts(self) -> BoolArray:
        """Which steps of which input have both numbers and count (time, tracker)."""
        there = np.isfinite(self.power) & np.isfinite(self.expected)
        return there & self.log.counted

    @cached_property
    def light_up(self) -> BoolArray:
        """Steps in which the sun is up (time,)."""
        found: BoolArray = weather_sun(self.site, self.weather).zenith < 90.0
        return found

    @cached_property
    def inverter(self) -> IntArray:
        """Position of the inverter of each input (tracker,)."""
        return self.simulated.inputs.inverter

    @cached_property
    def rated(self) -> FloatArray:
        """Rated power of the modules on each input and plane [W] (tracker, plane)."""
        types = {module.name: module_power_stc(module) for module in self.site.module_types}
        planes = {plane.name: at for at, plane in enumerate(self.site.planes)}
        found = np.zeros((len(self.wiring.trackers), len(planes)))
        for at, tracker in enumerate(self.wiring.trackers):
            for string in tracker.strings:
                for group in string.groups:
                    plane = planes[group.plane]
                    own = types[self.site.planes[plane].module_type]
                    found[at, plane] += group.modules * own
        return found

    @cached_property
    def bright(self) -> BoolArray:
        """Steps with enough light to look at ratios, nothing held back (time, tracker)."""
        lit = self.expected > BRIGHT * self.rated.sum(axis=1)
        found: BoolArray = self.counts & lit & self.unheld
        return found if self.held is None else found & ~self.held

    @cached_property
    def dead(self) -> BoolArray:
        """Steps in good light in which an input gives nothing (time, tracker)."""
        good = self.expected > 2.0 * BRIGHT * self.rated.sum(axis=1)
        found: BoolArray = self.counts & good & (self.power < DEAD * self.expected)
        return found


def beside(site: Site, wiring: Wiring, log: PlantLog, weather: xr.Dataset | None) -> Beside:
    """Simulate a wiring at the steps of a log.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        The wiring.
    log : PlantLog
        The log.
    weather : Dataset, optional
        Canonical weather of the same steps; the log's own if left out, else the site's.

    Raises
    ------
    InputError
        If inputs are not the wiring's, or no weather of the same time is there.
    """
    found, light = _weather(site, log, weather)
    log = _without_nights_beyond(_in_its_steps(log, found))
    found = _same_steps(found, log)
    prepared, (simulated,) = solved_wirings(prepare(site, found), (wiring,), silent)
    return Beside(site, wiring, log, found, light, prepared, simulated)


def of_ac_power(own: Beside) -> Beside:
    """Return a log without DC power as if its inputs shared the AC power as expected.

    Parameters
    ----------
    own : Beside
        The log beside its expectation; as it is where it has no AC power.
    """
    if "p_ac" not in own.log.data:
        return own
    fed = own.log.data["p_ac"].transpose("time", "inverter").to_numpy().astype(float)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(fed == 0.0, 0.0, fed / own.simulated.alternating.fed.p)
    ratio[~np.isfinite(ratio)] = 0.0
    ratio[~np.isfinite(fed)] = np.nan
    power = own.expected * ratio[:, own.inverter]
    data = own.log.data.assign(p_dc=(("time", "tracker"), power))
    return replace(own, log=replace(own.log, data=data))


def local_times(data: xr.Dataset) -> pd.DatetimeIndex:
    """Return the starts of a log's steps by local standard time (time,)."""
    offset = pd.Timedelta(seconds=float(data.attrs.get("utc_offset_s", 0.0)))
    return pd.DatetimeIndex(data.indexes["time"]) + offset


def measured_power(data: xr.Dataset) -> FloatArray:
    """Return the DC power of a log, else the product of its volts and amperes [W].

    Parameters
    ----------
    data : Dataset
        Of a `PlantLog`; shape (time, tracker).
    """
    power = np.full((data.sizes["time"], data.sizes["tracker"]), np.nan)
    if "p_dc" in data:
        power = data["p_dc"].transpose("time", "tracker").to_numpy().astype(float)
    if "v_dc" in data and "i_dc" in data:
        product = (data["v_dc"] * data["i_dc"]).transpose("time", "tracker").to_numpy()
        power = np.where(np.isfinite(power), power, product)
    return power


def refuse_other_inputs(site: Site, wiring: Wiring, log: PlantLog) -> None:
    """Refuse a log whose inputs are not those of the wiring."""
    own = [site.input_name(tracker) for tracker in wiring.trackers]
    found = [str(each) for each in log.data["tracker"].to_numpy()]
    if own != found:
        refuse(
            f"log {log.name}",
            "inputs " + ", ".join(found),
            f"the inputs of wiring '{wiring.name}': " + ", ".join(own),
            remedy="Name the wiring that the log is of",
        )


def _weather(site: Site, log: PlantLog, weather: xr.Dataset | None) -> tuple[xr.Dataset, str]:
    """Return weather of a log's time, and on what light it rests."""
    found = log.weather if weather is None else weather
    if found is not None:
        lit = [plane for kind, plane in measured_columns(found.data_vars).values() if kind == POA]
        if not lit:
            return found, ON_THE_LEVEL
        whole = all(each.name in lit and lies_in_plane(each, found) for each in site.planes)
        return found, ON_PLANES if whole else ON_SOME_PLANES
    own = site_weather(site)
    if own.attrs.get("typical"):
        refuse(
            f"log {log.name}",
            "no light, and a site whose weather is a typical year",
            "light in the log, or weather of the same days",
            remedy="Add a column of light to the log's description, or name a weather file of its "
            "time in the site file",
        )
    return own, OF_THE_SITE


def _in_its_steps(log: PlantLog, weather: xr.Dataset) -> PlantLog:
    """Return a log in the steps of its weather, where these are a whole number of its own."""
    step_s, own_s = (float(each.attrs["interval_s"]) for each in (weather, log.data))
    times = step_s / own_s
    return coarser(log, weather) if times > 1.0 and times == round(times) else log


def _without_nights_beyond(log: PlantLog) -> PlantLog:
    """Return a log without steps of a further month at either end in which nothing was given.

    Less than a day of them, as where a year ends at midnight by another clock, is no month.
    """
    local = local_times(log.data)
    month = (local.year * 12 + local.month).to_numpy()
    given = np.nan_to_num(measured_power(log.data)).max(axis=1) > 0.0
    if "p_ac" in log.data:
        given |= np.nan_to_num(log.data["p_ac"].to_numpy()).max(axis=1) > 0.0
    kept = np.ones(month.size, dtype=bool)
    day = 86_400.0 / float(log.data.attrs["interval_s"])
    for own in {int(month[0]), int(month[-1])}:
        there = month == own
        if there.sum() < day and not given[there].any():
            kept &= ~there
    return log if kept.all() or not kept.any() else replace(log, data=log.data.isel(time=kept))


def _same_steps(weather: xr.Dataset, log: PlantLog) -> xr.Dataset:
    """Return weather at the log's steps; what it hasn't is missing, nothing in common refused."""
    steps = pd.DatetimeIndex(log.data.indexes["time"])
    there = pd.DatetimeIndex(weather.indexes["time"])
    step_s, own_s = (float(each.attrs["interval_s"]) for each in (weather, log.data))
    if step_s != own_s or not steps.isin(there).any():
        span = f"{steps[0]:%Y-%m-%d} to {steps[-1]:%Y-%m-%d}, " if steps.size else ""
        refuse(
            f"log {log.name}, light",
            f"weather from {there[0]:%Y-%m-%d} to {there[-1]:%Y-%m-%d} in steps of "
            f"{step_s / 60.0:g} min",
            f"weather of the log's own time: {span}{own_s / 60.0:g} min",
            remedy="Add a column of light to the log's description",
        )
    if steps.equals(there):
        return weather
    return weather.reindex(time=steps).assign_attrs(weather.attrs)
