"""What a plant is worth, as people read it: never without the prices that it rests on."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.study.estimate.money import likely_cautious

NET_PRESENT_VALUE = "net present value"
INTERNAL_RATE = "internal rate of return"
LEVELISED_COST = "levelised cost of energy"
PAYBACK = "simple payback"
DISCOUNTED_PAYBACK = "discounted payback"
FIGURES = {
    NET_PRESENT_VALUE: ("net_present_value", False),
    INTERNAL_RATE: ("internal_rate", False),
    LEVELISED_COST: ("levelised_cost", True),
    PAYBACK: ("payback_years", True),
    DISCOUNTED_PAYBACK: ("discounted_payback_years", True),
}
"""Figures, the variable that holds each one's draws, and whether more of it is worse."""
SEVERAL, LOSS, ENDLESS = "several", "none: a loss at any rate", "none: a gain at any rate"
_MOST_SEVERAL_PERCENT = 1.0
"""From so many draws of several rates on none of them is told [%]."""


@dataclass(frozen=True)
class Money:
    """What a plant is worth under stated prices.

    Parameters
    ----------
    data : Dataset
        An estimate of a site whose offer states prices.
    """

    data: xr.Dataset

    @property
    def currency(self) -> str:
        """Code of the currency by ISO 4217."""
        return str(self.data.attrs["currency"])

    @property
    def years(self) -> int:
        """Years of the plant's life."""
        return int(self.data.sizes["plant_year"])

    @property
    def figures(self) -> pd.DataFrame:
        """Figures as numbers; infinite where a payback isn't within life or there is no rate.

        `likely` is the median of the draws, `cautious` what nine of ten are no worse than.
        """
        rows = {
            name: (*likely_cautious(self.data[variable].to_numpy(), worse), self._unit(variable))
            for name, (variable, worse) in FIGURES.items()
        }
        return pd.DataFrame.from_dict(rows, orient="index", columns=["likely", "cautious", "unit"])

    @property
    def table(self) -> pd.DataFrame:
        """Figures as numbers, and as words where there is no number; never missing."""
        numbers = self.figures
        told = {
            column: [
                self._told(str(name), own)
                for name, own in zip(numbers.index, numbers[column].to_numpy(float), strict=True)
            ]
            for column in ("likely", "cautious")
        }
        return pd.DataFrame(told, numbers.index, dtype=object).assign(unit=numbers["unit"])

    @property
    def several_rates(self) -> bool:
        """Whether more than one rate of return satisfies the cash flows of many draws."""
        return float(self.data.attrs["several_rates_percent"]) > _MOST_SEVERAL_PERCENT

    @property
    def by_year(self) -> pd.DataFrame:
        """Cash flow of each year, and its sum up to then, likely and cautious; year 0 first.

        Each is of its year alone: columns don't add up.
        """
        flows = self.data["cash_flow"].to_numpy().reshape(-1, self.years + 1)
        sums = np.cumsum(flows, axis=1)
        found = {
            f"{head}{word}": np.quantile(values, share, axis=0)
            for head, values in (("", flows), ("sum ", sums))
            for word, share in (("likely", 0.5), ("cautious", 0.1))
        }
        return pd.DataFrame(found, index=pd.Index(self.data["cash_year"].to_numpy(), name="year"))

    @property
    def curtailing(self) -> pd.DataFrame | None:
        """What feeding in nothing at hours of a negative price saves; None where there are none."""
        if not self.data.attrs["negative_feed_in"]:
            return None
        rows = {
            "first year": likely_cautious(self.data["curtailing_first_year"].to_numpy()),
            "life, discounted": likely_cautious(self.data["curtailing_worth"].to_numpy()),
        }
        return pd.DataFrame.from_dict(rows, orient="index", columns=["likely", "cautious"])

    @property
    def assumptions(self) -> tuple[tuple[str, str], ...]:
        """The prices and terms all of this rests on, as rows of what and how much."""
        return tuple((what, value) for what, value in json.loads(self._attr("price_assumptions")))

    @property
    def sentences(self) -> tuple[str, ...]:
        """What is to be known of the figures, in sentences."""
        found = [
            "Money is reckoned from each draw's own self-use and export, year by year. Likely is "
            "the median of the draws; cautious is what nine of ten are no worse than. Prices to "
            "come are as stated: they are not drawn, and nobody knows them.",
        ]
        if not self.data.attrs["has_load"]:
            found.append(
                "No consumption of the building is stated (grid.load): all that the plant yields "
                "is reckoned as fed in, none as saved."
            )
        rise = float(self.data.attrs["inflation_percent"])
        if rise:
            found.append(
                f"Rate of return and levelised cost are in money of the first year, beside "
                f"inflation of {rise:g} %; cash flows are in money of the day."
            )
        if self.data.attrs["taxed"]:
            found.append("The levelised cost is before tax; all else is after it.")
        if self.several_rates:
            found.append(
                "Several rates of return satisfy these cash flows, for a later year costs more "
                "than it brings: none is told. The net present value is unaffected."
            )
        saves = self.curtailing
        if saves is not None:
            likely, cautious = saves.loc["first year"]
            found.append(
                f"At some hours feeding in costs money. An inverter that feeds in nothing then "
                f"would save {likely:,.0f} {self.currency} in the likely first year, "
                f"{cautious:,.0f} {self.currency} in the cautious one."
            )
        if self._attr("self_use_upper_bound"):
            found.append(
                f"Self-use is an upper bound, and so is what it saves: "
                f"{self._attr('self_use_upper_bound')}."
            )
        return tuple(found)

    def _attr(self, name: str) -> str:
        return str(self.data.attrs[name])

    def _unit(self, variable: str) -> str:
        return str(self.data[variable].attrs["units"])

    def _told(self, name: str, value: float) -> float | str:
        """Return a figure, or why there is none."""
        if name == INTERNAL_RATE and self.several_rates:
            return SEVERAL
        if math.isfinite(value):
            return value
        if name == INTERNAL_RATE:
            return ENDLESS if value > 0.0 else LOSS
        return f"not within {self.years} years" if "payback" in name else "none: no energy"
