"""Whether one wiring is better than another, within what can be known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from yieldkit.base.arrays import FloatArray
from yieldkit.study.uncertainty.unknowns import Drawn

SAME_PERCENT = 0.2
"""Differences inside this are equal for every purpose; common practice, no source."""
BETTER, EQUIVALENT, NOT_SETTLED = "better", "equivalent", "not settled"


@dataclass(frozen=True)
class Judgement:
    """How two wirings compare within what can be known.

    Parameters
    ----------
    first, second : str
        Their names.
    verdict : str
        "better", "equivalent" or "not settled", said of the first.
    median_percent, low_percent, high_percent : float
        Median and 80 % interval of first minus second, in percent of the second.
    median_kwh, low_kwh, high_kwh : float
        The same of the difference in energy [kWh].
    draws : int
        How many draws were made.
    probability : float
        Share of the draws in which the first yields more.
    decided_by : tuple of (str, float)
        The unknowns that decide the difference, with their shares of its variance.
    unpaired_width_percent : float
        Width of the 80 % interval that unpaired draws would have had.
    per : str
        What the energies are of, such as "a year".
    """

    first: str
    second: str
    verdict: str
    median_percent: float
    low_percent: float
    high_percent: float
    median_kwh: float
    low_kwh: float
    high_kwh: float
    draws: int
    probability: float
    decided_by: tuple[tuple[str, float], ...]
    unpaired_width_percent: float
    per: str = ""

    def sentence(self) -> str:
        """Return the judgement in words."""
        span = f"{self.low_percent:+z.2f} to {self.high_percent:+z.2f} %"
        what = self.decided_by[0][0] if self.decided_by else ""
        said = {
            BETTER: f"'{self.first}' is {'better' if self.median_percent > 0 else 'worse'} than",
            EQUIVALENT: f"'{self.first}' is equivalent to",
            NOT_SETTLED: f"It is not settled whether '{self.first}' is better than",
        }[self.verdict]
        end = f" Knowing the {what} better would settle it." if self.verdict == NOT_SETTLED else ""
        return (
            f"{said} '{self.second}': median {self.median_percent:+z.2f} % "
            f"({' '.join((f'{self.median_kwh:+z,.0f} kWh', self.per)).strip()}), 80 % of "
            f"{self.draws} draws {span}{f', decided mostly by {what}' if what else ''}.{end}"
        )


def judge(drawn: Drawn, first: str, second: str) -> Judgement:
    """Say whether a wiring is better than another.

    Parameters
    ----------
    drawn : Drawn
        From `draw_energies`.
    first, second : str
        Names of two of its wirings.
    """
    one = drawn.energy_kwh[:, drawn.names.index(first)]
    other = drawn.energy_kwh[:, drawn.names.index(second)]
    percent = 100.0 * (one - other) / other
    low, median, high = np.quantile(percent, [0.1, 0.5, 0.9])
    if low >= -SAME_PERCENT and high <= SAME_PERCENT:
        verdict = EQUIVALENT
    elif low * high > 0.0 and abs(median) >= SAME_PERCENT:
        verdict = BETTER
    else:
        verdict = NOT_SETTLED
    strangers = 100.0 * (one[:, None] - other[None, :]) / other[None, :]
    apart = strangers[~np.eye(one.size, dtype=bool)]
    wide = np.quantile(apart, 0.9) - np.quantile(apart, 0.1)
    middle_kwh, low_kwh, high_kwh = np.quantile(one - other, [0.5, 0.1, 0.9])
    return Judgement(
        first,
        second,
        verdict,
        float(median),
        float(low),
        float(high),
        float(middle_kwh),
        float(low_kwh),
        float(high_kwh),
        one.size,
        float(np.mean(one > other) + 0.5 * np.mean(one == other)),
        _decided_by(drawn.inputs, percent),
        float(wide),
        drawn.per,
    )


def _decided_by(inputs: pd.DataFrame, percent: FloatArray) -> tuple[tuple[str, float], ...]:
    """Return shares of the variance by squared rank correlation, the largest first."""
    if np.ptp(percent) == 0.0:
        return ()
    ranks = pd.Series(percent).rank()
    squares = {
        name: float(np.corrcoef(inputs[name].rank(), ranks)[0, 1] ** 2)
        for name in inputs.columns
        if name != "weather year" and np.ptp(inputs[name]) > 0.0
    }
    explained = sum(squares.values())
    scale = max(explained, 1.0)
    shares = {name: value / scale for name, value in squares.items()}
    rest = max(1.0 - explained, 0.0)
    shares["weather year and joint effects"] = rest
    ranked = sorted(shares.items(), key=lambda item: -item[1])
    return tuple((name, share) for name, share in ranked[:5] if share > 0.01)
