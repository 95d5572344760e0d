"""On what an estimate rests, in sentences."""

from __future__ import annotations

from yieldkit.config.site.site import Site
from yieldkit.study.estimate.plant import Plant
from yieldkit.study.estimate.spread import BLOCKS, ENOUGH_YEARS, MEASURED, Spread
from yieldkit.study.estimate.terms import terms_told
from yieldkit.study.simulation.budget_steps import left_out
from yieldkit.study.simulation.prepare import Prepared

_DRAWN_LESS = (
    "Soiling, snow and horizon are drawn round what the site states, and only towards loss where "
    "it states none. Not drawn, for they move a year by less than 0.05 %: modules that differ "
    "within a plane, and the voltage of bypass diodes."
)
_MONTHS = (
    "Months of the likely and of the cautious year are those of years that end at that sum (each "
    "month's mean and its regression on the year's sum), so that they add up to it; the span of a "
    "month alone is wider, and such spans don't add up."
)


def years_told(spread: Spread, blocks_percent: float) -> str:
    """Return how much years are taken to differ, and by what right.

    Parameters
    ----------
    spread : Spread
        How much years differ.
    blocks_percent : float
        By how much years drawn from blocks of days differ in energy [%].
    """
    if spread.kind == BLOCKS:
        return (
            "Caution: the weather is one year and no spread between years is stated, so that years "
            f"are drawn from its blocks of five days and differ by {blocks_percent:.1f} %. Real "
            "years differ more: the bands are too narrow. Give several years of weather, or state "
            "estimate.year_to_year with its source."
        )
    said = f"Years differ by {spread.percent:.1f} % in light (standard deviation): {spread.source}."
    if spread.kind == MEASURED and spread.years < ENOUGH_YEARS:
        return f"Caution: {said} So few years hardly tell how much years differ."
    return said


def sentences(
    prepared: Prepared, plant: Plant, draws: int, spread: Spread, blocks_percent: float
) -> tuple[str, ...]:
    """Return on what an estimate rests.

    Parameters
    ----------
    prepared : Prepared
        The site on its weather.
    plant : Plant
        Its whole runs.
    draws : int
        How many draws were made.
    spread, blocks_percent
        As for `years_told`.
    """
    site = prepared.site
    residual = f"{plant.residual_percent:.2f} %"
    made = (
        f"The likely year is the median of {draws:,} draws of all that nobody knows exactly, the "
        "nominal one what the site file says with all of it at its stated value. Of the draws "
        f"{plant.runs} ran through the whole chain; the others follow from these and from each "
        f"year's own hours, to {residual} (root mean square, each run foretold by the others)."
    )
    found = [made, years_told(spread, blocks_percent), *terms_told(site)[:2], _DRAWN_LESS, _MONTHS]
    if plant.aged is not None:
        ages = " and ".join(f"{age:g}" for age in plant.aged.ages)
        found.append(
            f"The aged plant was run whole at {ages} years, to {plant.aged.residual_percent:.2f} "
            "%; ages between lie on the curve through these. A year's energy is that of its middle."
        )
    if prepared.within is not None:
        found.append(
            "What the weather's steps hide leaves each month of every draw the share that it "
            "leaves of the nominal one."
        )
    return (*found, *prepared.remarks, *_not_modelled(site))


def _not_modelled(site: Site) -> tuple[str, ...]:
    lacking = [name for name in left_out(site) if name != "ageing"]
    return (f"Not modelled: {', '.join(lacking)}.",) if lacking else ()
