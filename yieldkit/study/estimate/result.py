"""An estimate: bands of likely and cautious years, and all that they rest on."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.display import Card, short_name
from yieldkit.study.estimate.money import likely_cautious
from yieldkit.study.estimate.money_result import Money
from yieldkit.study.simulation.module_shadows import Shadows, shadows_from
from yieldkit.study.simulation.period import MONTHS


@dataclass(frozen=True)
class Estimate:
    """What `estimate` found.

    Parameters
    ----------
    data : Dataset
        Energies of every draw, bands, months, contributions and the way from nominal to likely,
        each with unit and long name; attributes say of what site, wiring and weather.
    """

    data: xr.Dataset

    def __repr__(self) -> str:
        return self._card().text()

    def _repr_html_(self) -> str:
        return self._card().html()

    def _card(self) -> Card:
        attrs, bands = self.data.attrs, self.bands
        title = (
            f"'{short_name(attrs['wiring'])}' of '{short_name(attrs['site'])}': "
            f"{self.likely_kwh:,.0f} kWh in a likely year, {self.cautious_kwh:,.0f} kWh exceeded "
            "in nine of ten"
        )
        rows = tuple(
            (
                str(name),
                ", ".join(f"{head} {value:,.0f}" for head, value in row.items()) + " kWh",
            )
            for name, row in bands.iterrows()
        )
        hint = (
            "Ask it for .bands, .months, .by_year, .contributions, .way, .losses, .yields, "
            ".shadows, .house, .money, .sentences."
        )
        return Card(title, rows, hint)

    @property
    def likely_kwh(self) -> float:
        """The first year's energy that is exceeded in half of all cases: the median [kWh]."""
        return float(self.data["bands"].sel(mean_years=1, exceedance=50))

    @property
    def cautious_kwh(self) -> float:
        """The first year's energy that is exceeded in nine of ten cases [kWh]."""
        return float(self.data["bands"].sel(mean_years=1, exceedance=90))

    @property
    def nominal_kwh(self) -> float:
        """What `simulate` gives: the site as its file has it, in the weather's mean year [kWh]."""
        return float(self.data.attrs["nominal_kwh"])

    @property
    def residual_percent(self) -> float:
        """What whole runs leave unexplained, each left out, root mean square [%]."""
        return float(self.data.attrs["residual_percent"])

    @property
    def bands(self) -> pd.DataFrame:
        """Energy a year [kWh] exceeded in so many of a hundred cases, of one year and of means."""
        table = _frame(self.data["bands"], "mean_years", "exceedance")
        table.index = pd.Index([_span(int(years)) for years in self.data["mean_years"]], name="")
        return table

    @property
    def by_year(self) -> pd.DataFrame:
        """Energy of each year of life [kWh] exceeded in so many of a hundred cases."""
        return _frame(self.data["year_bands"], "plant_year", "exceedance")

    @property
    def months(self) -> pd.DataFrame:
        """Months of the first year [kWh].

        `likely` and `cautious` add up to the year's median and to what is exceeded in nine of ten
        years; `low` and `high` hold each month alone in eight of ten years and don't add up.
        """
        own = self.data["month_bands"].to_numpy()
        likely, cautious = self.data["months_of_year"].sel(exceedance=[50, 90]).to_numpy()
        nominal = self.data["nominal_months"].to_numpy()
        return pd.DataFrame(
            {
                "nominal": nominal,
                "likely": likely,
                "cautious": cautious,
                "low": own[:, 0],
                "high": own[:, 1],
            },
            index=pd.Index(MONTHS, name="month"),
        )

    @property
    def contributions(self) -> pd.DataFrame:
        """What each unknown adds to the spread of the first year, the largest first."""
        found = {
            name: self.data[name].to_numpy() for name in ("first_order", "total_order", "saved")
        }
        causes = pd.Index(self.data["cause"].to_numpy(), name="cause")
        table = pd.DataFrame({**found, "spread": self.data["cause_spread"].to_numpy()}, causes)
        table["source"] = self.data["cause_source"].to_numpy()
        return table.sort_values("total_order", ascending=False)

    @property
    def way(self) -> pd.DataFrame:
        """Steps from the nominal to the likely figure [kWh], and where each one arrives."""
        steps = self.data["way"].to_numpy()
        return pd.DataFrame(
            {"energy_kwh": steps, "sum_kwh": np.cumsum(steps)},
            index=pd.Index(self.data["way_step"].to_numpy(), name="step"),
        )

    @property
    def losses(self) -> pd.DataFrame:
        """Steps of the nominal year's loss budget [kWh], and as shares of rated efficiency [%]."""
        lost = self.data["loss_budget"].to_numpy()
        whole = float(self.data.attrs["nameplate_kwh"])
        return pd.DataFrame(
            {"loss_kwh": lost, "share_percent": 100.0 * lost / whole},
            index=pd.Index(self.data["loss_step"].to_numpy(), name="step"),
        )

    @property
    def yields(self) -> pd.Series:
        """Yields [h] and ratios [1] of the nominal year by their symbols in IEC 61724-1."""
        symbols = pd.Index(self.data["symbol"].to_numpy(), name="symbol")
        return pd.Series(self.data["yields"].to_numpy(), symbols)

    @property
    def shadows(self) -> Shadows | None:
        """What shadows take from each module in the nominal year; None where nothing shades any."""
        return shadows_from(json.loads(str(self.data["shadows"].item())))

    @property
    def house(self) -> pd.DataFrame | None:
        """The building's first year, likely and cautious; None where no load is stated.

        Self-use, export, import and load [kWh], and the share of the load that the plant covers
        [%]. Each line is of its own draws: lines of the cautious column don't add up.
        """
        attrs = self.data.attrs
        if not attrs.get("has_load"):
            return None
        load, taken = float(attrs["load_kwh"]), float(attrs["own_consumption_kwh"])
        used, fed = (self.data[name].to_numpy()[:, :, 0] for name in ("self_use", "export"))
        covered = 100.0 * used / load if load else np.zeros_like(used)
        rows = {
            "self-use": (*likely_cautious(used), "kWh"),
            "export": (*likely_cautious(fed), "kWh"),
            "import": (*likely_cautious(load + taken - used, more_is_worse=True), "kWh"),
            "load": (load, load, "kWh"),
            "share of the load": (*likely_cautious(covered), "%"),
        }
        return pd.DataFrame.from_dict(rows, orient="index", columns=["likely", "cautious", "unit"])

    @property
    def money(self) -> Money | None:
        """What the plant is worth; None where the site's offer states no prices."""
        return Money(self.data) if "cash_flow" in self.data else None

    @property
    def offer(self) -> dict[str, Any] | None:
        """The site's offer as its file has it; None where there is none."""
        text = self.data.attrs.get("offer")
        return None if text is None else dict(json.loads(text))

    @property
    def sentences(self) -> tuple[str, ...]:
        """What the figures rest on, in sentences."""
        return tuple(json.loads(self.data.attrs["sentences"]))


def _frame(values: xr.DataArray, rows: str, columns: str) -> pd.DataFrame:
    heads = [f"P{int(share)}" for share in values[columns]]
    index = pd.Index(values[rows].to_numpy(), name=rows)
    return pd.DataFrame(values.transpose(rows, columns).to_numpy(), index, heads)


def _span(years: int) -> str:
    return "first year" if years == 1 else f"mean of {years} years"
