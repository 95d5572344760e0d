"""Money of 512 draws through 25 years, and a year of a load by the minute laid on the weather."""

import tempfile
from pathlib import Path

import numpy as np
import pandas as pd

import yieldkit
from benchmarks.timing import best_of
from yieldkit.study.estimate.money import (
    Terms,
    cash_flows,
    discounted,
    internal_rates,
    levelised_cost,
    likely_cautious,
    net_present_value,
    payback,
    sales,
    savings,
)
from yieldkit.study.simulation.load import load_power
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.weather import site_weather

DRAWS, YEARS, PERIODS = 512, 25, 4


def run() -> dict[str, float]:
    """Return the time of all figures of money, likely and cautious, and of reading a load."""
    rng = np.random.default_rng(1)
    used, fed = (mean * rng.normal(1.0, 0.05, (DRAWS, YEARS, PERIODS)) for mean in (600.0, 1800.0))
    replacements = np.zeros(YEARS)
    replacements[12] = 2000.0
    terms = Terms(
        YEARS,
        14_000.0,
        np.array([0.36, 0.31, 0.28, 0.22]),
        np.array([0.09, 0.06, 0.02, -0.01]),
        150.0,
        replacements,
        rate=0.04,
    )
    site = yieldkit.load_site()
    weather = site_weather(site)

    def money() -> None:
        flows = cash_flows(terms, savings(terms, used, np.zeros(PERIODS)), sales(terms, fed))
        likely_cautious(net_present_value(flows, terms.rate))
        likely_cautious(internal_rates(flows).rate)
        likely_cautious(levelised_cost(terms, (used + fed).sum(axis=2)), True)
        likely_cautious(payback(flows), True)
        likely_cautious(payback(discounted(flows, terms.rate)), True)

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "load.csv"
        minutes = pd.date_range("2021-01-01", periods=365 * 1440, freq="min")
        watts = rng.gamma(2.0, 200.0, minutes.size).round(1)
        pd.DataFrame({"time": minutes, "w": watts}).to_csv(path, index=False)
        load = {"kind": "series", "file": str(path)}
        prepared = prepare(site.variant({"grid.load": load}), weather)

        def read() -> None:
            path.touch()  # A file that is another is read again.
            load_power(prepared)

        return {
            "money_512_by_25_years_s": best_of(money, 3),
            "load_minute_year_s": best_of(read, 2),
        }
