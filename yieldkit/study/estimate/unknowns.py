"""What is drawn for an annual figure: centred on what the site states, shared where it is."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from scipy.special import ndtri
from scipy.stats import qmc

from yieldkit.base.arrays import FloatArray
from yieldkit.config.models.planes import Plane
from yieldkit.config.site.site import Site
from yieldkit.study.estimate.spread import BLOCKS, Spread
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.simulation.soiling import months, soiling_share
from yieldkit.study.uncertainty.drawn_site import dirt_by_time
from yieldkit.study.uncertainty.unknowns import Unknown, unknowns

YEAR = "weather year"
AGEING = "yearly loss of module power"
SNOW, SNOW_UNSTATED = "snow", "snow that is not stated"
LEVEL, LONG_TERM = "irradiance level", "long-term light"
SKY, EVENLY_BRIGHT = "sky model", "evenly bright share of the sky"
_COMMON = "common practice, no source"
_SMALL = ("module sorting", "bypass drop")
"""Not drawn for an annual figure: they move the demonstration site's by less than 0.05 %."""
_OF_ALL_PLANES = ("horizon", "soiling", "module tolerance", "heat loss of the cells")
_ALIKE = (*_OF_ALL_PLANES, "low-light slope")
"""Of each plane, but with one cause: the same dirt, the same delivery, the same neighbourhood. They
add up over the planes instead of averaging out."""
_SNOW = Unknown(SNOW, False, 30.0, "normal", "% of what falls", _COMMON)
_FROST = Unknown(
    SNOW_UNSTATED, False, 10.0, "uniform", "% of months below 0 degC on average", _COMMON, 10.0
)

_MEAN = Unknown(LONG_TERM, False, 1.0, "normal", "%", "years at hand: their spread by root number")
_AGEING = Unknown(AGEING, False, 1.0, "normal", "points", "between plants; " + _COMMON)


class Column(NamedTuple):
    """One number that is drawn, and what follows from it.

    Parameters
    ----------
    name : str
        What it is, with its plane where planes have their own.
    unknown : Unknown
        What is unknown; several columns may share one.
    fills : tuple of (str, float, float)
        The quantities that it sets: name, middle, and half width or standard deviation.
    """

    name: str
    unknown: Unknown
    fills: tuple[tuple[str, float, float], ...]

    def drawn(self, uniform: FloatArray) -> FloatArray:
        """Return the number from places between 0 and 1: -1 to 1, of unit variance, or as it is."""
        if self.unknown.shape == "normal":
            return np.asarray(ndtri(uniform), dtype=float)
        return 2.0 * uniform - 1.0 if self.unknown.shape == "uniform" else uniform

    def values(self, number: float) -> Iterator[tuple[str, float]]:
        """Give the quantities that follow from the number."""
        for name, middle, spread in self.fills:
            choice = self.unknown.shape == "choice"
            yield name, number if choice else middle + spread * number


class Unsure(NamedTuple):
    """All that is drawn for a site.

    Parameters
    ----------
    columns : tuple of Column
        In the order of the draws' columns.
    """

    columns: tuple[Column, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the columns."""
        return tuple(column.name for column in self.columns)

    @property
    def causes(self) -> tuple[str, ...]:
        """What is unknown, each once: what belongs together goes together."""
        return tuple(dict.fromkeys(column.unknown.name for column in self.columns))

    def of_cause(self, cause: str) -> list[int]:
        """Return the positions of the columns of one cause."""
        return [at for at, own in enumerate(self.columns) if own.unknown.name == cause]

    def points(self, draws: int, seed: int) -> FloatArray:
        """Return scrambled Sobol draws (draw, column); `draws` is a power of two."""
        sampler = qmc.Sobol(len(self.columns), scramble=True, rng=np.random.default_rng(seed))
        uniform = np.clip(sampler.random_base2(draws.bit_length() - 1), 1e-9, 1.0 - 1e-9)
        return np.column_stack(
            [column.drawn(own) for column, own in zip(self.columns, uniform.T, strict=True)]
        )

    def row(self, numbers: FloatArray) -> dict[str, float]:
        """Return the quantities of one draw from its numbers (column,)."""
        found: dict[str, float] = {}
        for column, number in zip(self.columns, numbers, strict=True):
            found |= dict(column.values(float(number)))
        return found

    def base_row(self) -> dict[str, float]:
        """Return the draw in which all is as the site file states it."""
        row = {name: 0.0 for column in self.columns for name, _, _ in column.fills}
        return {name: value for name, value in row.items() if name not in (SKY, EVENLY_BRIGHT)}


def unsure(prepared: Prepared, further: tuple[Column, ...]) -> Unsure:
    """Return what is drawn for the annual figure of a site.

    Parameters
    ----------
    prepared : Prepared
        The site on its weather.
    further : tuple of Column
        What the weather's years and ageing add.

    Returns
    -------
    Unsure
        Soiling, snow and horizon lie round what the site states, and on one side only where it
        states none.
    """
    columns = list(further)
    for each in unknowns(prepared.site):
        if each.name in (*_SMALL, YEAR):
            continue
        if not each.per_plane:
            columns.append(Column(each.name, each, ((each.name, each.middle, each.spread),)))
            continue
        fills = [_of_plane(prepared, plane, each) for plane in prepared.site.planes]
        if each.name in _ALIKE:
            columns.append(Column(each.name, each, tuple(fills)))
        else:
            columns += [Column(fill[0], each, (fill,)) for fill in fills]
    return Unsure((*columns, *_snow(prepared)))


def lasting(site: Site, spread: Spread) -> tuple[Column, ...]:
    """Return what the weather's years and ageing add to what is drawn.

    Parameters
    ----------
    site : Site
        The site.
    spread : Spread
        How much years differ.
    """
    columns = [Column(YEAR, _year(spread), ())]
    apart = spread.of_mean()
    if apart > 0.0:
        own = _MEAN._replace(spread=round(apart, 2))
        columns.append(Column(LONG_TERM, own, ((LONG_TERM, 0.0, apart),)))
    said = site.estimate.ageing
    if said.spread_percent_per_year > 0.0 or said.power_loss_percent_per_year > 0.0:
        fill = (AGEING, said.power_loss_percent_per_year, said.spread_percent_per_year)
        source = said.source or _AGEING.source
        own = _AGEING._replace(spread=said.spread_percent_per_year, source=source)
        columns.append(Column(AGEING, own, (fill,)))
    return tuple(columns)


def _year(spread: Spread) -> Unknown:
    """Return what is unknown of a year's weather."""
    if spread.kind == BLOCKS:
        return Unknown(YEAR, False, 1.0, "choice", "1", spread.source)
    return Unknown(YEAR, False, round(spread.percent, 2), "normal", "% of its light", spread.source)


def _of_plane(prepared: Prepared, plane: Plane, each: Unknown) -> tuple[str, float, float]:
    """Return how an unknown of a plane is drawn: name, middle and spread."""
    name = f"{each.name} of {plane.name}"
    if each.name == "horizon" and prepared.site.horizon_of(plane):
        return name, 0.0, each.spread
    if each.name == "soiling":
        stated = 100.0 * float(np.nanmean(soiling_share(plane, prepared.weather)))
        if stated > 0.0 or dirt_by_time(plane):  # no cleaner than clean
            return name, 0.0, min(each.spread, stated)
    return name, each.middle, each.spread


def _snow(prepared: Prepared) -> tuple[Column, ...]:
    if prepared.site.site.snow is not None:
        return (Column(SNOW, _SNOW, ((SNOW, 0.0, _SNOW.spread),)),)
    if frosty_months(prepared).any():
        return (Column(SNOW_UNSTATED, _FROST, ((SNOW_UNSTATED, _FROST.middle, _FROST.spread),)),)
    return ()


def frosty_months(prepared: Prepared) -> FloatArray:
    """Return 1 for calendar months whose air is below 0 degC on average, else 0 (12,)."""
    air = prepared.weather["temp_air"].to_numpy()
    month = months(prepared.weather)
    there = np.isfinite(air)
    total = np.bincount(month[there], weights=air[there], minlength=12)
    return (total < 0.0).astype(float)
