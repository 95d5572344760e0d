"""What is drawn of a plant, and draws of it that run through the whole chain."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.base.progress import Progress
from yieldkit.study.estimate.booking import Booking
from yieldkit.study.estimate.day_blocks import Picks
from yieldkit.study.estimate.runs import Subject, drawn_meter, drawn_months
from yieldkit.study.estimate.unknowns import Unsure
from yieldkit.study.estimate.weather_years import WeatherYears, YearDraws, Years
from yieldkit.study.uncertainty.draws import WORKERS


class Drawing(NamedTuple):
    """What is drawn of a plant, in how many draws.

    Parameters
    ----------
    subject : Subject
        The wiring on its site.
    unsure : Unsure
        What is unknown.
    weather : WeatherYears
        Where its years are drawn from.
    numbers : ndarray
        The draws (draw, column).
    picks : Picks
        Years of each draw.
    years : YearDraws
        Their energy and light (draw, year).
    booking : Booking or None
        How what passes the meter is booked; None where nobody asks.
    """

    subject: Subject
    unsure: Unsure
    weather: WeatherYears
    numbers: FloatArray
    picks: Picks
    years: YearDraws
    booking: Booking | None = None

    def booked_run(self, draw: int, age_years: float = 0.0) -> FloatArray:
        """Return months, then what is booked of a draw's first year by the whole chain [kWh].

        Where nothing is booked it is the months alone.
        """
        if self.booking is None:
            return self.run(draw, age_years)
        year = self.weather.year(self.picks, self.years, draw)
        meter = drawn_meter(self.subject, self.unsure.row(self.numbers[draw]), year, age_years)
        return self.booking.row(year.weather, meter)

    def run(self, draw: int, age_years: float = 0.0) -> FloatArray:
        """Return the months of a draw's first year by the whole chain [kWh] (month,)."""
        year = self.weather.year(self.picks, self.years, draw)
        return drawn_months(self.subject, self.unsure.row(self.numbers[draw]), year, age_years)

    def first_years(self, draws: int) -> Years:
        """Return the first years of the first draws."""
        return self.years.pick(0).first(draws)

    def middles(self, cause: str) -> dict[str, float]:
        """Return the middles of what a cause sets."""
        columns = [self.unsure.columns[at] for at in self.unsure.of_cause(cause)]
        return {name: middle for column in columns for name, middle, _ in column.fills}

    def in_usual_year(self, row: dict[str, float], age_years: float = 0.0) -> FloatArray:
        """Return the months of a row in the year at hand nearest the mean one [kWh] (month,)."""
        return drawn_months(self.subject, row, self.weather.usual(), age_years)


def each_run(
    work: Callable[[int], FloatArray], draws: Sequence[int], tell: Progress, word: str
) -> FloatArray:
    """Return what draws give, worked on by some threads; any number of them gives the same.

    Parameters
    ----------
    work : callable
        Returns the months of a draw [kWh] (month,), or more.
    draws : sequence of int
        The draws.
    tell : callable
        As for `plant_from_runs`.
    word : str
        What is told to be done.

    Returns
    -------
    ndarray
        (draw, month), or more columns.
    """
    with ThreadPoolExecutor(WORKERS) as pool:
        found = [pool.submit(work, draw) for draw in draws]
        try:
            made = []
            for number, each in enumerate(found):
                made.append(each.result())
                if tell(word, number + 1, len(found)):
                    raise KeyboardInterrupt(f"stopped: {number + 1} {word}")
        finally:  # stopped, interrupted or failed: nobody waits for the others
            pool.shutdown(cancel_futures=True)
    return np.array(made) if made else np.zeros((0, 12))
