"""What a report tells beside a comparison: computed once when asked for, and kept with it."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd
import xarray as xr

from yieldkit.base.arrays import IntArray
from yieldkit.base.progress import Progress, silent
from yieldkit.config.site.site import Wiring
from yieldkit.study.comparison.better import Better
from yieldkit.study.comparison.curves import (
    moment_curves,
    telling_days,
    telling_moments,
    telling_tracker,
)
from yieldkit.study.comparison.lead_sizes import lead_options
from yieldkit.study.comparison.mounting_spread import Neighbour, mounting_spread
from yieldkit.study.simulation.module_shadows import Shadows, shadows_of
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.simulation.trackers import Solutions

SHOWN_IN_DETAIL = 4
"""So many wirings are looked at closely."""
_MOMENTS = 2


@dataclass(frozen=True)
class Details:
    """What else is known of a comparison's wirings.

    Parameters
    ----------
    wirings : tuple of str
        The wirings looked at closely: the one that others are compared with, then by yield.
    better : Better
        What a look at all other wirings says.
    days : tuple of (str, ndarray of int)
        Kind of day, and its positions in time.
    curves : tuple of (str, Dataset)
        Of each wiring looked at closely the I-V and P-V curves of its most varied input at the
        moments that tell most; see `moment_curves`.
    leads : DataFrame or None
        Every cross-section of the AC lead with the first wiring, as `lead_options` has them; None
        where no lead is described.
    mountings : tuple of Neighbour
        The first wiring's yield with neighbouring ways of mounting.
    shadows : Shadows or None
        What shadows take from each module, and when; None where nothing shades any.
    """

    wirings: tuple[str, ...]
    better: Better
    days: tuple[tuple[str, IntArray], ...]
    curves: tuple[tuple[str, xr.Dataset], ...]
    leads: pd.DataFrame | None
    mountings: tuple[Neighbour, ...]
    shadows: Shadows | None = None


def details_of(
    prepared: Prepared,
    wirings: tuple[Wiring, ...],
    better: Better,
    progress: Progress | None = None,
) -> Details:
    """Compute what a report tells beside a comparison.

    Parameters
    ----------
    prepared : Prepared
        What the wirings share.
    wirings : tuple of Wiring
        Those to look at closely, the one that others are compared with first.
    better : Better
        What a look at all other wirings says.
    progress : callable, optional
        Called with "details", how many parts are done and how many there are.
    """
    tell = progress or silent
    first, every = wirings[0], len(wirings) + 2
    moments = dict(list(telling_moments(prepared).items())[:_MOMENTS])
    curves = []
    for done, wiring in enumerate(wirings):
        tell("details", done, every)
        found = moment_curves(prepared, wiring, telling_tracker(prepared.site, wiring), moments)
        curves.append((wiring.name, found))
    tell("details", len(wirings), every)
    leads = lead_options(prepared, first, Solutions())
    tell("details", len(wirings) + 1, every)
    mountings = mounting_spread(prepared.site, prepared.weather, first.name)
    tell("details", every, every)
    return Details(
        wirings=tuple(wiring.name for wiring in wirings),
        better=better,
        days=tuple(telling_days(prepared.weather).items()),
        curves=tuple(curves),
        leads=leads,
        mountings=mountings,
        shadows=shadows_of(prepared, wirings),
    )
