"""Dirt on modules that rain washes off: the models that reckon it, with their figures."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from yieldkit.config.models.base import Frozen

_Share = Annotated[float, Field(ge=0, lt=100)]


class DailySoiling(Frozen):
    """Dirt that grows by the same loss every day until it rains enough (Kimber et al. 2006)."""

    model: Literal["kimber"]
    """A loss that grows day by day."""
    loss_percent_per_day: Annotated[float, Field(gt=0, le=5)] = 0.15
    """Loss of light that a day without rain adds [%]."""
    cleaning_rain_mm: Annotated[float, Field(gt=0, le=200)] = 6.0
    """Rain within 24 hours that washes the modules clean [mm]."""
    damp_days: Annotated[int, Field(ge=1, le=120)] = 14
    """Days after such a rain on which no dirt settles, for the ground is damp."""
    most_loss_percent: _Share = 30.0
    """Loss at which it stays [%]."""


class SettlingSoiling(Frozen):
    """Dust that settles out of the air until it rains enough (Coello and Boyle 2019)."""

    model: Literal["hsu"]
    """Fixed velocities at which dust settles."""
    pm2_5_ug_m3: Annotated[float, Field(ge=0, le=1000)]
    """Dust in the air of less than 2.5 micrometres [ug/m3]."""
    pm10_ug_m3: Annotated[float, Field(ge=0, le=2000)]
    """Dust in the air of less than 10 micrometres, the finer included [ug/m3]."""
    cleaning_rain_mm: Annotated[float, Field(gt=0, le=200)] = 1.0
    """Rain that washes the modules clean [mm]."""
    rain_within_h: Annotated[int, Field(ge=1, le=24)] = 1
    """Hours within which it has to fall [h]."""


RainSoiling = Annotated[DailySoiling | SettlingSoiling, Field(discriminator="model")]
