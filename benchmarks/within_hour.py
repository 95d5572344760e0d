"""A year of hourly means with what they hide: every lit hour's minutes, three trackers."""

import yieldkit
from benchmarks.timing import best_of
from yieldkit.study.simulation.weather import site_weather


def run() -> dict[str, float]:
    """Return the time of a simulated year with its minutes drawn and solved to the meter.

    The weather is the demonstration's year taken as hourly means; sun, planes, cells, trackers and
    AC side of all minutes are in it, and those of the two extreme skies. The least of three runs.
    """
    site = yieldkit.load_site().variant({"weather.within_hour": {}})
    means = site_weather(site).assign_attrs(sampling="mean", label="start", sun_offset_s=0.0)
    return {"within_hour_year_s": best_of(lambda: yieldkit.simulate(site, weather=means), 3)}
