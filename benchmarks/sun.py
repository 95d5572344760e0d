"""The sun's position for a year of hours and of minutes, against the library's own call.

The baseline, `pvlib.solarposition.get_solarposition`, is the call that computed the sun of every
step before 27 November 2026. Both are given the same instants of one year and alternate in one
run; the least time of each is taken. What the table of days costs is in it once: the year's table
is thrown away before every run.
"""

import pandas as pd
import pvlib

from benchmarks.timing import best_of_pair
from yieldkit.physics.irradiance import sun_course
from yieldkit.physics.irradiance.sun import sun_position

PLACE = (45.0, 8.0, 200.0)


def seconds(times: pd.DatetimeIndex, runs: int) -> tuple[float, float]:
    """Return the least times of ours and of the library's call [s]."""

    def ours() -> None:
        sun_course.course_of_year.cache_clear()
        sun_position(times, *PLACE)

    def library() -> None:
        pvlib.solarposition.get_solarposition(times, *PLACE[:2], altitude=PLACE[2])

    return best_of_pair(ours, library, runs)


def run() -> dict[str, float]:
    """Return how long a year's sun takes, and how much faster that is than the library's call."""
    hours = pd.date_range("2023-01-01 00:30", periods=8760, freq="h", tz="UTC")
    minutes = pd.date_range("2023-01-01 00:00:30", periods=525_600, freq="min", tz="UTC")
    ours, library = seconds(hours, 9)
    ours_minutes, library_minutes = seconds(minutes, 3)
    return {
        "sun_position_year_s": ours,
        "sun_position_vs_library_speedup": library / ours,
        "sun_position_minute_year_s": ours_minutes,
        "sun_position_minutes_vs_library_speedup": library_minutes / ours_minutes,
    }
