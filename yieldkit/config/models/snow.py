"""Snow on modules: what falls in each month, or the weather's own snowfall step by step."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from yieldkit.config.models.base import Frozen, twelve

_Fallen = Annotated[float, Field(ge=0, le=2000)]
_Days = Annotated[float, Field(ge=0, le=31)]
_Humid = Annotated[float, Field(gt=0, le=100)]


class SnowByMonth(Frozen):
    """Snow of each month, from which each plane's loss follows (Townsend and Powers 2011)."""

    kind: Literal["by-month"]
    """Snow by month, January to December."""
    snow_cm: Annotated[tuple[_Fallen, ...], twelve("heights of fallen snow")]
    """Snow that falls in each month, January to December [cm]."""
    snow_days: Annotated[tuple[_Days, ...], twelve("numbers of days")]
    """Days in each month on which more than 2.5 cm fall, January to December."""
    relative_humidity_percent: (
        Annotated[tuple[_Humid, ...], twelve("relative humidities")] | None
    ) = None
    """Mean relative humidity of each month [%]; the weather's own if left out."""


class SnowFromSnowfall(Frozen):
    """Snow that covers planes and slides off, by the weather's snowfall (Marion et al. 2013)."""

    kind: Literal["from-snowfall"]
    """Snow step by step; needs a column of snowfall in the weather and the modules' places."""
    covering_cm_per_h: Annotated[float, Field(gt=0, le=20)] = 1.0
    """Snow falling faster than this covers a plane whole [cm/h]."""
    slides_per_h: Annotated[float, Field(gt=0, le=1)] = 0.197
    """Share of an upright plane's height that slides off in an hour; less with the sine of tilt."""
    frost_light_w_m2: Annotated[float, Field(gt=0, le=500)] = 80.0
    """Light on the plane that lets snow slide in one degree of frost, twice as much in two
    [W/m2]."""


Snow = Annotated[SnowByMonth | SnowFromSnowfall, Field(discriminator="kind")]
