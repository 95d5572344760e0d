"""What an estimate of many years needs beside the plant as it is new: ageing, outages, weather."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from yieldkit.config.models.base import Frozen, Text, twelve

STATED_LOSS_PERCENT = 0.5
STATED_SPREAD_PERCENT = 0.25


class Ageing(Frozen):
    """How the modules' power falls with the years."""

    power_loss_percent_per_year: Annotated[float, Field(ge=0, le=5)] = STATED_LOSS_PERCENT
    """Power that modules lose in a year [%]; of about 2,000 measured rates 0.5 is the median."""
    spread_percent_per_year: Annotated[float, Field(ge=0, le=2)] = STATED_SPREAD_PERCENT
    """Standard deviation of that loss between plants [%], the same for all of a plant's life."""
    course: Literal["linear", "compound"] = "linear"
    """Every year loses the same of the first year's power, or of the year's before."""
    source: Text | None = None
    """Where these figures come from; asked for where they are stated."""


class YearToYear(Frozen):
    """How much years of this place differ, where one year of weather can't tell it."""

    spread_percent: Annotated[float, Field(gt=0, le=30)]
    """Standard deviation of a year's light from the mean of many years [%]."""
    source: Text | None = None
    """Where the figure comes from; a figure without it is refused."""


class EstimateTerms(Frozen):
    """What `estimate` reckons with beside the plant as it is new; no other command does."""

    years: Annotated[int, Field(ge=1, le=50)] = 25
    """Years of the plant's life."""
    ageing: Ageing = Ageing()
    """How the modules' power falls with the years."""
    outages_percent_by_month: (
        Annotated[tuple[Annotated[float, Field(ge=0, lt=100)], ...], twelve("shares of time")]
        | None
    ) = None
    """Time the plant is down in each month, January to December [%], beside
    grid.availability_percent."""
    year_to_year: YearToYear | None = None
    """How much years differ, stated; by default as several weather years show it."""
