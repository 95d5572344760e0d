"""What an estimate assumes of years to come, in sentences with their sources."""

from __future__ import annotations

from yieldkit.config.site.site import Site
from yieldkit.study.simulation.period import MONTHS

RATES = "median of about 2,000 measured rates (Jordan and Kurtz 2013, abstract read)"
SPREAD = "between plants: common practice, no source"


def terms_told(site: Site) -> tuple[str, ...]:
    """Return what an estimate of a site assumes of ageing, outages and years, one sentence each.

    Parameters
    ----------
    site : Site
        The site.
    """
    return (_ageing(site), _outages(site), _years(site))


def _ageing(site: Site) -> str:
    said = site.estimate.ageing
    course = (
        "the same of the first year's power every year"
        if said.course == "linear"
        else "of what the year before left"
    )
    source = said.source or f"{RATES}; {SPREAD}"
    return (
        f"Modules lose {said.power_loss_percent_per_year:g} % of their power a year, {course}, "
        f"with a spread of {said.spread_percent_per_year:g} points; {site.estimate.years} years "
        f"of life. Source: {source}."
    )


def _outages(site: Site) -> str:
    up, months = site.grid.availability_percent, site.estimate.outages_percent_by_month
    if months is None and up == 100.0:
        return (
            "No outages: grid.availability_percent is 100 and no outages by month are stated. A "
            "plant that is down at times yields less."
        )
    text = f"The plant is up {up:g} % of the time"
    if months is not None:
        down = ", ".join(
            f"{name} {share:g} %" for name, share in zip(MONTHS, months, strict=True) if share
        )
        text += f", and beside that down by month: {down or 'never'}"
    return f"{text}."


def _years(site: Site) -> str:
    said = site.estimate.year_to_year
    if said is None:
        return "How much years differ is not stated."
    return f"Years differ by {said.spread_percent:g} % (standard deviation). Source: {said.source}."
