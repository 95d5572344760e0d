"""What a result rests on, in sentences for the report."""

from __future__ import annotations

import xarray as xr

from yieldkit.config.site import Site
from yieldkit.physics import heat
from yieldkit.physics.datasheet import DiodeFit
