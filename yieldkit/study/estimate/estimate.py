"""What a plant yields in a likely and in a cautious year, month by month, and on what it rests."""

from __future__ import annotations

from functools import partial

import numpy as np
import xarray as xr

from yieldkit.base.arrays import FloatArray
from yieldkit.base.errors import refuse
from yieldkit.base.progress import Progress, silent
from yieldkit.config.site.site import Site
from yieldkit.design.checks.limits import named_wiring
from yieldkit.study.estimate.as_dataset import Found, as_dataset
from yieldkit.study.estimate.booking import booking_of
from yieldkit.study.estimate.causes import plant_contributions
from yieldkit.study.estimate.choice import chosen_wiring
from yieldkit.study.estimate.drawing import Drawing
from yieldkit.study.estimate.nominal import with_nominal
from yieldkit.study.estimate.plant import YEARS_A_DRAW, Plant, plant_from_runs
from yieldkit.study.estimate.result import Estimate
from yieldkit.study.estimate.runs import Subject, by_month, delivered, drawn_power
from yieldkit.study.estimate.sentences import sentences
from yieldkit.study.estimate.spread import spread_of, years_at_hand
from yieldkit.study.estimate.unknowns import (
    YEAR,
    Unsure,
    frosty_months,
    lasting,
    unsure,
)
from yieldkit.study.estimate.way import way_to_likely
from yieldkit.study.estimate.weather_years import (
    DrawnYear,
    WeatherYears,
    deviations,
    weather_years,
)
from yieldkit.study.estimate.worth import with_worth
from yieldkit.study.simulation.month_weights import weighed
from yieldkit.study.simulation.prepare import Prepared, prepare
from yieldkit.study.simulation.weather import site_weather

DRAWS = 512
_LEAST_DRAWS, _MOST_DRAWS = 64, 16384


def estimate(
    site: Site,
    wiring: str | None = None,
    weather: xr.Dataset | None = None,
    draws: int = DRAWS,
    seed: int = 1,
    progress: Progress | None = None,
) -> Estimate:
    """Estimate what a wiring yields in a likely and in a cautious year.

    Parameters
    ----------
    site : Site
        The building, its planes, inverters and wirings.
    wiring : str, optional
        Name of the wiring; if left out the one that yields most of those with nothing forbidden.
    weather : Dataset, optional
        Canonical weather of one year or several; read from the site's own source if left out.
    draws : int
        Draws of all that nobody knows exactly, a power of two from 64 on.
    seed : int
        Of the draws: the same gives the same figures.
    progress : callable, optional
        Called with a word, how many are done and how many there are; a true answer stops.

    Returns
    -------
    Estimate
        Bands, months, contributions and the way from nominal to likely; with a load what the
        building uses itself, and with prices in the site's offer what the plant is worth.

    Raises
    ------
    InputError
        If the site has no such wiring, the weather is no year or can't be read, or the number of
        draws is none of those.
    NothingPermitted
        If no wiring is named and all are forbidden.
    KeyboardInterrupt
        If the answer to `progress` is to stop.
    """
    if wiring is not None:
        named_wiring(site, wiring)
    refuse_draws(draws)
    refuse_seed(seed)
    prepared = prepare(site, site_weather(site) if weather is None else weather)
    _refuse_no_year(prepared)
    choice = chosen_wiring(prepared, wiring)
    subject = Subject(prepared, choice.wiring)
    tell = progress or silent
    drawing = drawing_of(subject, draws, seed)
    hidden, outages = _hidden(drawing), _outages(site)
    ages = _ages(site)
    frosty = frosty_months(prepared)
    plant = plant_from_runs(drawing, hidden * outages, frosty, ages, tell)
    each_year = _year_by_year(drawing, plant)
    life = np.stack([own.sum(axis=2) for own in each_year], axis=2)
    likely = float(np.median(life[:, :, 0]))
    nominal = drawing.weather.nominal
    found = Found(
        drawing,
        plant,
        each_year[0],
        life,
        plant_contributions(drawing, plant, seed),
        way_to_likely(drawing, plant, outages, hidden, likely),
        hidden * nominal,
        seed,
    )
    blocks = 100.0 * float(np.std(drawing.years.factor[:, 0] @ nominal) / nominal.sum())
    said = sentences(
        prepared,
        plant,
        draws,
        drawing.weather.spread,
        blocks,
    )
    data = with_nominal(as_dataset(found, said), prepared, choice)
    return Estimate(with_worth(data, drawing, plant, hidden, each_year))


def refuse_draws(draws: int, where: str = "draws") -> None:
    """Refuse a number of draws that aren't well spread.

    Parameters
    ----------
    draws : int
        How many.
    where : str
        What messages call it.

    Raises
    ------
    InputError
        For what is no power of two, too few or too many.
    """
    whole = type(draws) is int
    if not (whole and _LEAST_DRAWS <= draws <= _MOST_DRAWS and draws & (draws - 1) == 0):
        refuse(
            where,
            f"{draws}",
            f"a power of two from {_LEAST_DRAWS} to {_MOST_DRAWS:,}, such as 512 or 1024",
            "Sobol points are well spread in powers of two only",
        )


def refuse_seed(seed: int, where: str = "seed") -> None:
    """Refuse what is no seed.

    Parameters
    ----------
    seed : int
        The seed.
    where : str
        What messages call it.

    Raises
    ------
    InputError
        For what is no whole number from 0 to 4,294,967,295.
    """
    if type(seed) is not int or not 0 <= seed < 2**32:
        refuse(where, f"{seed}", "a whole number from 0 to 4,294,967,295")


def _refuse_no_year(prepared: Prepared) -> None:
    period = prepared.period
    if not period.is_year:
        refuse(
            "weather",
            f"{period.span} of it",
            "one year or several, for an annual figure",
            period.coverage_sentence(),
            "Nothing is scaled up to a year: `yieldkit simulate` gives the energy of these days",
        )


def drawing_of(subject: Subject, draws: int, seed: int) -> Drawing:
    """Return the draws of a plant, and the years of each.

    Parameters
    ----------
    subject : Subject
        The wiring on its site.
    draws, seed : int
        As for `estimate`.
    """
    prepared, site = subject.prepared, subject.site
    at_hand = years_at_hand(prepared)
    spread = spread_of(prepared, at_hand)
    doubts = unsure(prepared, lasting(site, spread))
    weather = weather_years(
        [prepared.weather.isel(time=steps) for steps in at_hand],
        partial(_base_energy, subject, doubts),
        spread,
        site.grid.network_voltage.kind != "series",
    )
    return drawn_from(subject, doubts, weather, draws, seed)


def drawn_from(
    subject: Subject, doubts: Unsure, weather: WeatherYears, draws: int, seed: int
) -> Drawing:
    """Return the draws of a plant where it is known what is drawn.

    Parameters
    ----------
    subject : Subject
        The wiring on its site.
    doubts : Unsure
        What is unknown.
    weather : WeatherYears
        Where years are drawn from.
    draws, seed : int
        As for `estimate`.
    """
    numbers = doubts.points(draws, seed)
    years = max(subject.site.estimate.years, YEARS_A_DRAW)
    picks = weather.picks(draws, years, seed)
    first = numbers[:, [doubts.names.index(YEAR)]]
    apart = np.column_stack([first, deviations(draws, years - 1, seed)])
    drawn = weather.drawn(picks, apart)
    return Drawing(subject, doubts, weather, numbers, picks, drawn, booking_of(subject.site))


def _year_by_year(drawing: Drawing, plant: Plant) -> list[FloatArray]:
    """Return months of each year of life [kWh] (draw, pick, month)."""
    numbers, years = drawing.numbers, drawing.years
    life = range(1, drawing.subject.site.estimate.years + 1)
    return [plant.one_year(numbers, years, own) for own in life]


def _base_energy(subject: Subject, doubts: Unsure, year: DrawnYear) -> FloatArray:
    """Return what the plant gives in each step of a year, all as its file states it [kWh]."""
    power = np.nan_to_num(drawn_power(subject, doubts.base_row(), year))
    return power * subject.prepared.interval_s / 3.6e6


def _hidden(drawing: Drawing) -> FloatArray:
    """Return what of each month the years that are drawn from don't show [1] (month,).

    That is what fluctuation within the steps leaves of it, and months of years that aren't whole.
    """
    prepared = drawing.subject.prepared
    weights, energy = prepared.weights, drawing.weather.energy
    if prepared.within is None and weights is None:
        return np.ones(12)
    power = weighed(delivered(prepared, drawing.subject.wiring), weights)
    months, bare = by_month(prepared.weather, power), energy.sum(axis=0)
    if weights is not None:
        months, bare = months / prepared.period.averaged, energy.mean(axis=0)
    left: FloatArray = np.divide(months, bare, out=np.ones(12), where=bare > 0.0)
    return left


def _outages(site: Site) -> FloatArray:
    """Return what outages leave of each month [1] (month,)."""
    said = site.estimate.outages_percent_by_month
    return np.ones(12) if said is None else 1.0 - np.array(said) / 100.0


def _ages(site: Site) -> tuple[float, ...]:
    """Return the ages at which the plant is run beside the new one [years]."""
    ageing = site.estimate.ageing
    if ageing.power_loss_percent_per_year == 0.0 and ageing.spread_percent_per_year == 0.0:
        return ()
    return site.estimate.years / 2.0, float(site.estimate.years)
