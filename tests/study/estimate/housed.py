"""A household behind the demonstration site, measured by the quarter-hour, and its offer."""

import numpy as np
import pandas as pd

from tests.study.estimate.plants import drawn, stated
from tests.study.sites import demo
from yieldkit.base.progress import silent
from yieldkit.study.estimate.house import house_of
from yieldkit.study.estimate.plant import plant_from_runs

ZONE = "Europe/Berlin"
PRICES = {
    "currency": "EUR",
    "outlay": 21_000.0,
    "zone": ZONE,
    "purchase": {
        "periods": [
            {"name": "day", "price_per_kwh": 0.34, "hours": [[6, 18]]},
            {"name": "night", "price_per_kwh": 0.22, "hours": [[0, 6], [18, 24]]},
        ]
    },
    "feed_in": {
        "periods": [
            {"name": "noon", "price_per_kwh": -0.01, "hours": [[12, 15]]},
            {"name": "other", "price_per_kwh": 0.09, "hours": [[0, 12], [15, 24]]},
        ]
    },
    "running_costs_per_year": 160.0,
    "replacements": [{"what": "inverter", "after_year": 13, "cost": 2000.0}],
    "discount": {"rate_percent": 3.0, "kind": "nominal"},
}


def spiky(folder):
    """Write a household that takes much for a quarter of each hour; return its description."""
    quarters = pd.date_range("2021-01-01", "2022-01-01", freq="15min", inclusive="left")
    rng = np.random.default_rng(8)
    cooking = (quarters.hour >= 6) & (quarters.hour < 22) & (quarters.minute == 15)
    watts = 250.0 + 6000.0 * cooking * rng.uniform(0.2, 1.0, quarters.size)
    pd.DataFrame({"time": quarters, "w": watts.round(1)}).to_csv(folder / "load.csv", index=False)
    return {"kind": "series", "file": str(folder / "load.csv")}


def housed_site(folder):
    """Return the demonstration site with that household and offer."""
    return stated(demo()).variant({"grid.load": spiky(folder), "offer": PRICES})


AGES = (25.0,)


def housed(site, draws=512):
    """Return what is drawn of a site, its plant and its house."""
    drawing = drawn(site, draws)
    plant = plant_from_runs(drawing, np.ones(12), np.zeros(12), AGES, silent)
    return drawing, plant, house_of(drawing, plant, drawing.booking, np.ones(12))
