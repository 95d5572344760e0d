"""A year of minutes of the demonstration site's three trackers, from weather to result."""

import yieldkit
from benchmarks.timing import best_of
from benchmarks.version_jobs import minute_year
from yieldkit.study.simulation.weather import site_weather


def run() -> dict[str, float]:
    """Return the time of a simulated year of minutes, sun, planes, cells and AC side in it.

    The weather is the hourly year, its values joined by straight lines. The least of three runs.
    """
    site = yieldkit.load_site()
    minutes = minute_year(site_weather(site))
    return {"minute_year_whole_s": best_of(lambda: yieldkit.simulate(site, weather=minutes), 3)}
