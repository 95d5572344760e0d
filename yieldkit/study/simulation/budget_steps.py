"""The steps of the loss budget, in one table: those that are modelled, and what is left out."""

from __future__ import annotations

from typing import NamedTuple

from yieldkit.config.site.site import Site

RATED = "energy if always at rated efficiency"
"""What the budget begins with: all modules at every light and heat as good as they are rated."""
WIRING, PLANE, OBSTACLES, SNOW, CIRCUIT, AC, LEFT_OUT = range(7)
"""Where a step is booked: by what is wired, plane by plane, module by module where something shades
them or snow lies on them, in the strings and inputs, behind them, or nowhere."""


class BudgetStep(NamedTuple):
    """A step of the loss budget.

    Parameters
    ----------
    name : str
        What it is called.
    booked : int
        Where it is booked.
    signed : bool
        Whether it may be a gain.
    lacking : str
        What to say of a site for which it isn't modelled; empty where it always is.
    """

    name: str
    booked: int
    signed: bool = False
    lacking: str = ""


BUDGET = (
    BudgetStep("modules not wired", WIRING),
    BudgetStep("horizon", PLANE, lacking="far horizon"),
    BudgetStep("incidence angle", PLANE),
    BudgetStep("soiling", PLANE),
    BudgetStep("low-light efficiency", PLANE, signed=True),
    BudgetStep("temperature", PLANE, signed=True),
    BudgetStep("rear gain", PLANE, signed=True),
    BudgetStep("module tolerance", PLANE, signed=True),
    BudgetStep("initial loss", PLANE),
    BudgetStep("obstacles: light missing", OBSTACLES, lacking="near shade on single cell groups"),
    BudgetStep("obstacles: darkest cell", OBSTACLES),
    BudgetStep("snow", SNOW, lacking="snow"),
    BudgetStep("series mismatch", CIRCUIT),
    BudgetStep("parallel mismatch", CIRCUIT),
    BudgetStep("DC cable", CIRCUIT),
    BudgetStep("MPP window and start-up", CIRCUIT),
    BudgetStep("maximum input current", CIRCUIT),
    BudgetStep("tracker search", CIRCUIT),
    BudgetStep("tracking efficiency", CIRCUIT),
    BudgetStep("maximum input power", CIRCUIT),
    BudgetStep("conversion", AC),
    BudgetStep("AC limit", AC),
    BudgetStep("temperature derating", AC),
    BudgetStep("reactive power", AC),
    BudgetStep("export limit", AC),
    BudgetStep("auxiliary power", AC),
    BudgetStep("AC lead", AC),
    BudgetStep("common lead", AC),
    BudgetStep("network voltage", AC),
    BudgetStep("availability", AC),
    BudgetStep(
        "fluctuation within the step: transposition of means",
        AC,
        signed=True,
        lacking="fluctuation within the step",
    ),
    BudgetStep("fluctuation within the step: clipping", AC),
    BudgetStep("spectrum", LEFT_OUT, signed=True, lacking="spectrum"),
    BudgetStep("ageing", LEFT_OUT, lacking="ageing"),
)
"""Every step in its order."""


def _names(*booked: int) -> tuple[str, ...]:
    return tuple(step.name for step in BUDGET if step.booked in booked)


STAGES = ("nameplate", *_names(PLANE))
OBSTACLE_STEPS = _names(OBSTACLES)
SNOW_STEPS = _names(SNOW)
CIRCUIT_STEPS = _names(CIRCUIT)
AC_STEPS = _names(AC)
STEPS = _names(WIRING, PLANE, OBSTACLES, SNOW, CIRCUIT, AC)
SIGNED_STEPS = frozenset(step.name for step in BUDGET if step.signed)


def left_out(*sites: Site) -> tuple[str, ...]:
    """Return what is not modelled, in words.

    Parameters
    ----------
    *sites : Site
        Sites whose planes may have a horizon, snow, and modules that can be shaded: not modelled is
        what isn't for one of them.
    """
    modelled = {
        PLANE: all(any(map(site.horizon_of, site.planes)) for site in sites),
        OBSTACLES: all(any(plane.corner_m is not None for plane in site.planes) for site in sites),
        SNOW: all(site.site.snow is not None for site in sites),
        AC: all(site.weather.within_hour is not None for site in sites),
    }
    return tuple(
        step.lacking for step in BUDGET if step.lacking and not modelled.get(step.booked, False)
    )
