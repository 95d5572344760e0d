"""Jobs that any version of the package can do, timed one by one on request.

`python version_jobs.py` reads names of jobs from standard input, a line each, does each once and
answers with the seconds it took: of a first comparison those of the processors, else those of the
clock. It is run by the python of an environment in which that version is installed, and imports
nothing but that version.
"""

import os
import subprocess
import sys
import tempfile
import time
from functools import cache
from importlib import import_module

import numpy as np
import pandas as pd

import yieldkit

DRAWS = 8
MINUTES = 60


def first_of(*places):
    """Return the first of several functions that this version has, each as "module:name"."""
    for place in places:
        room, name = place.split(":")
        try:
            return getattr(import_module(room), name)
        except (ImportError, AttributeError):
            continue
    raise ImportError(f"none of {', '.join(places)} in this version")


def minute_year(hours):
    """Return an hourly year's weather between its hours, a value a minute."""
    starts = pd.DatetimeIndex(hours.indexes["time"])
    times = pd.date_range(starts[0], periods=starts.size * MINUTES, freq="min")
    place = (np.arange(times.size) + 0.5) / MINUTES - 0.5
    values = {
        name: ("time", np.interp(place, np.arange(starts.size), hours[name].to_numpy()))
        for name in ("ghi", "dni", "dhi", "temp_air", "wind_speed")
    }
    made = hours[list(values)].isel(time=np.repeat(np.arange(starts.size), MINUTES))
    return made.assign_coords(time=times).assign(values).assign_attrs(interval_s=60.0)


def command(*words, **surroundings):
    """Run this version's command line in a process of its own; what it says is left out."""
    subprocess.run(
        [sys.executable, "-P", "-m", "yieldkit", *words],
        env={**os.environ, **surroundings},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        check=True,
    )


def first_compare():
    """Return the processor time of a comparison that compiles into an empty cache [s]."""
    before = os.times()
    with tempfile.TemporaryDirectory() as cache:
        command("compare", "--no-report", YIELDKIT_CACHE=cache)
    after = os.times()
    return sum(after[2:4]) - sum(before[2:4])


def timed(work):
    """Return a job that does some work and returns the time it took [s]."""

    def job():
        started = time.perf_counter()
        work()
        return time.perf_counter() - started

    return job


def jobs():
    """Return the jobs by name; what they share is made once, the first time it is needed."""
    site_weather = first_of(
        "yieldkit.study.simulation.weather:site_weather", "yieldkit.study.weather:site_weather"
    )
    prepare = first_of(
        "yieldkit.study.simulation.prepare:prepare", "yieldkit.study.prepare:prepare"
    )
    draw_energies = first_of(
        "yieldkit.study.uncertainty.draws:draw_energies",
        "yieldkit.study.uncertainty:draw_energies",
    )
    site = cache(yieldkit.load_site)
    weather = cache(lambda: site_weather(site()))
    minutes = cache(lambda: minute_year(weather()))
    prepared = cache(lambda: prepare(site(), weather()))
    return {
        "simulate": timed(lambda: yieldkit.simulate(site(), weather=weather())),
        "compare": timed(lambda: yieldkit.compare(site())),
        "minute_year": timed(lambda: yieldkit.simulate(site(), weather=minutes())),
        "draws": timed(lambda: draw_energies(prepared(), site().wirings, DRAWS)),
        "second_process": timed(lambda: command("simulate")),
        "first_compare": first_compare,
    }


def main():
    """Answer every line with the seconds that its job took."""
    known = jobs()
    for line in sys.stdin:
        print(known[line.strip()](), flush=True)


if __name__ == "__main__":
    main()
