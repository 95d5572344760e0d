"""What a building uses of its plant's energy itself, and what it exports, in every draw and year.

Self-use doesn't scale with energy: of a brighter year's surplus more is exported. So each month's
energy of a draw says by how much the base case's power of that month is scaled, and the overlap of
that with the load, step by step, is what is used; whole runs say how far that is off.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.study.estimate.base_year import MONTHS, BaseYear, base_year
from yieldkit.study.estimate.booking import Booking, month_sums
from yieldkit.study.estimate.drawing import Drawing
from yieldkit.study.estimate.model import residual_percent
from yieldkit.study.estimate.plant import Plant, picks_in
from yieldkit.study.estimate.response import Response, fitted
from yieldkit.study.estimate.runs import Subject, metered
from yieldkit.study.simulation.month_weights import weighed

_NOTHING_KWH = 1e-9


class Chosen(NamedTuple):
    """Whose weather draws have in one year.

    Parameters
    ----------
    source : ndarray of int
        Which of the years at hand (draw,).
    blocks : dict of int to ndarray of int
        By month, which block of days stands at each place (draw, place).
    """

    source: IntArray
    blocks: dict[int, IntArray]

    def of_month(self, month: int) -> IntArray:
        """Return the blocks of a month (draw, place); no places where nothing changes them."""
        nothing = np.zeros((self.source.size, 0), dtype=np.int64)
        return self.blocks.get(month, nothing)


def chosen_in(drawing: Drawing, pick: int, draws: int) -> Chosen:
    """Return whose weather the first draws have in one drawn year.

    Parameters
    ----------
    drawing : Drawing
        What is drawn.
    pick : int
        Which drawn year.
    draws : int
        How many draws.
    """
    blocks = {
        own.month: each[:draws, pick]
        for own, each in zip(drawing.weather.blocks, drawing.picks.blocks, strict=True)
    }
    return Chosen(drawing.picks.source[:draws, pick], blocks)


class Booked(NamedTuple):
    """Energies of every draw, by periods [kWh] (draw, pick, period).

    Parameters
    ----------
    self_use : ndarray
        By period of purchase.
    export : ndarray
        By period of feed-in.
    """

    self_use: FloatArray
    export: FloatArray


class House(NamedTuple):
    """The building's side of a plant.

    Parameters
    ----------
    years : tuple of BaseYear
        The base case in each year at hand.
    feed_ins : int
        Periods of feed-in.
    factors : ndarray
        What steps hide of each month's self-use [1] (month, period of purchase).
    hidden : ndarray
        What they hide of its energy [1] (month,).
    response : Response or None
        Of the logarithm of a run's sums over those foretold.
    steady : ndarray of bool
        Booked sums that follow it, self-use first, then export (period of either,).
    residual_percent : float
        What runs leave unexplained of self-use and export, each left out, root mean square [%].
    """

    years: tuple[BaseYear, ...]
    feed_ins: int
    factors: FloatArray
    hidden: FloatArray
    response: Response | None
    steady: BoolArray
    residual_percent: float

    @property
    def load(self) -> FloatArray:
        """Consumption of a year [kWh] (period of purchase,)."""
        return np.asarray(np.mean([year.load for year in self.years], axis=0))

    @property
    def taken(self) -> FloatArray:
        """What the plant itself takes in a year at night [kWh] (period of purchase,)."""
        return np.asarray(np.mean([year.taken.sum(axis=0) for year in self.years], axis=0))

    def foretold(self, energy: FloatArray, up: FloatArray, chosen: Chosen) -> Booked:
        """Return sums before runs have corrected them [kWh] (draw, period).

        Parameters
        ----------
        energy : ndarray
            Energy of each month while the plant is up [kWh] (draw, month).
        up : ndarray
            Share of each month's time that it is [1] (draw, month).
        chosen : Chosen
            Of which year at hand each draw's weather is, and which blocks stand where.
        """
        number = self.factors.shape[1]
        used, fed = np.zeros((len(energy), number)), np.zeros((len(energy), self.feed_ins))
        for at, year in enumerate(self.years):
            rows = np.flatnonzero(chosen.source == at)
            own = energy[rows] + year.taken.sum(axis=1)
            for month, overlap in enumerate(year.overlaps):
                blocks = chosen.of_month(month)[rows]
                given = overlap.given(blocks)
                base = given.sum(axis=1)
                some = base > _NOTHING_KWH
                scale = np.divide(own[:, month], base, out=np.zeros_like(base), where=some)
                scale = np.maximum(scale, 0.0)
                both = overlap.at(scale, blocks)
                there = up[rows, month, None]
                used[rows] += there * self.factors[month] * both[:, :number]
                out = scale[:, None] * given - both[:, number:]
                fed[rows] += there * np.maximum(out, 0.0)
        return Booked(used, fed)

    def booked(
        self, energy: FloatArray, foretold: Booked, features: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return self-use and export of draws by periods [kWh] (draw, period).

        They add up to the energy and what the plant takes at night; self-use is never above the
        load, and nothing is negative.

        Parameters
        ----------
        energy : ndarray
            Energy of each draw's year [kWh] (draw,).
        foretold : Booked
            From `foretold`.
        features : ndarray
            As `Features.of` gives them (draw, feature).
        """
        sums = np.concatenate(foretold, axis=1)
        if self.response is not None:
            sums[:, self.steady] *= np.exp(self.response.at(features))
        used, fed = np.split(sums, [foretold.self_use.shape[1]], axis=1)
        given = np.maximum(energy + self.taken.sum(), 0.0)
        used = np.minimum(used, self.load)
        used = used * _least(1.0, given, used.sum(axis=1))[:, None]
        rest = given - used.sum(axis=1)
        whole = fed.sum(axis=1)
        even = np.full_like(fed, 1.0 / fed.shape[1])
        share = np.divide(fed, whole[:, None], out=even, where=whole[:, None] > 0.0)
        return used, share * rest[:, None]


def _least(most: float, given: FloatArray, wanted: FloatArray) -> FloatArray:
    share = np.divide(given, wanted, out=np.full_like(given, most), where=wanted > 0.0)
    return np.minimum(share, most)


def house_of(drawing: Drawing, plant: Plant, booking: Booking, hidden: FloatArray) -> House:
    """Return the building's side of a plant, its whole runs booked already.

    Parameters
    ----------
    drawing : Drawing
        What is drawn.
    plant : Plant
        The plant.
    booking : Booking
        How what passes the meter is booked.
    hidden : ndarray
        What steps hide of each month's energy [1] (month,).
    """
    subject, row = drawing.subject, drawing.unsure.base_row()
    years = tuple(
        base_year(subject, row, source, drawing.weather.blocks, booking)
        for source in drawing.weather.sources
    )
    factors = hidden_self_use(subject, years, booking)
    none = np.zeros(0, dtype=bool)
    feed_ins = len(booking.feed_in.names)
    plain = House(years, feed_ins, np.ones_like(factors), hidden, None, none, 0.0)
    chosen = chosen_in(drawing, 0, plant.runs)
    foretold = plain.foretold(plant.run_months, np.ones((plant.runs, MONTHS)), chosen)
    level = drawing.first_years(plant.runs).level
    features = plant.model.features.of(drawing.numbers[: plant.runs], level)
    return _corrected(plain, foretold, plant.run_books, features)._replace(factors=factors)


def _corrected(plain: House, foretold: Booked, books: FloatArray, features: FloatArray) -> House:
    """Return a house that whole runs have corrected."""
    sums = np.concatenate(foretold, axis=1)
    steady: BoolArray = np.asarray((np.minimum(sums, books) > 0.0).all(axis=0))
    if not steady.any():
        return plain._replace(steady=steady)
    number = foretold.self_use.shape[1]
    kinds = [np.flatnonzero(steady[:number]), number + np.flatnonzero(steady[number:])]
    place = np.cumsum(steady) - 1

    def misfit(logs: FloatArray) -> float:
        apart = []
        for columns in kinds:
            if columns.size:
                own = np.exp(logs[:, place[columns]]) * sums[:, columns]
                apart.append(residual_percent(own.sum(axis=1), books[:, columns].sum(axis=1)))
        return float(np.sqrt(np.mean(np.square(apart))))

    response = fitted(features, np.log(books[:, steady] / sums[:, steady]), misfit)
    return plain._replace(
        response=response, steady=steady, residual_percent=misfit(response.left_out)
    )


def hidden_self_use(subject: Subject, years: tuple[BaseYear, ...], booking: Booking) -> FloatArray:
    """Return what steps, and months that aren't whole, hide of self-use [1] (month, period).

    Parameters
    ----------
    subject : Subject
        The wiring on its site.
    years : tuple of BaseYear
        The base case in each year at hand.
    booking : Booking
        How what passes the meter is booked.
    """
    prepared = subject.prepared
    weights = prepared.weights
    bare = np.sum([year.self_use for year in years], axis=0)
    if prepared.within is None and weights is None:
        return np.ones_like(bare)
    meter = metered(prepared, subject.wiring)
    own = month_sums(prepared.weather, weighed(meter.self_use, weights), booking.purchase)
    if weights is not None:
        own, bare = own / prepared.period.averaged, bare / len(years)
    factors: FloatArray = np.divide(own, bare, out=np.ones_like(bare), where=bare > 0.0)
    return factors


def booked_year(
    drawing: Drawing, plant: Plant, house: House, months_kwh: FloatArray, plant_year: int
) -> Booked:
    """Return self-use and export of every draw in one year of life, under several weathers.

    Parameters
    ----------
    drawing : Drawing
        What is drawn.
    plant : Plant
        The plant.
    house : House
        The building's side.
    months_kwh : ndarray
        The year's months [kWh] (draw, pick, month), from `Plant.one_year`.
    plant_year : int
        Which year of life, from 1 on.
    """
    numbers, years = drawing.numbers, drawing.years
    left = plant.model.booked(np.ones((len(numbers), MONTHS)), numbers)
    up = np.divide(left, house.hidden, out=np.zeros_like(left), where=house.hidden > 0.0)
    each = []
    for place, pick in enumerate(picks_in(plant_year, years.level.shape[1])):
        energy = months_kwh[:, place]
        chain = np.divide(energy, left, out=np.zeros_like(energy), where=left > 0.0)
        foretold = house.foretold(chain, up, chosen_in(drawing, pick, len(numbers)))
        features = plant.model.features.of(numbers, years.level[:, pick])
        each.append(house.booked(energy.sum(axis=1), foretold, features))
    used, fed = zip(*each, strict=True)
    return Booked(np.stack(used, axis=1), np.stack(fed, axis=1))
