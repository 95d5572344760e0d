"""An invented load: quarter hours of a yard's year, drawn from a seed."""

import numpy as np
import pandas as pd


def invented_load(seed: int) -> pd.Series:
    """Return a year of loads [W] by the local clock, index at the start of each quarter hour.

    A machine that comes and goes through working days on top of what always runs; its year is
    another than the weather's.
    """
    times = pd.date_range("2021-01-01", periods=365 * 96, freq="15min")
    rng = np.random.default_rng(seed)
    working = (times.hour >= 7) & (times.hour < 17) & (times.day_of_week < 6)
    running = working & (rng.uniform(size=times.size) < 0.45)
    always = 350.0 + 150.0 * rng.uniform(size=times.size)
    return pd.Series(np.round(always + running * rng.uniform(3000.0, 9000.0, times.size)), times)
