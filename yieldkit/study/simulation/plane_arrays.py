"""The results of planes side by side, as arrays over time and plane."""

from __future__ import annotations

import numpy as np
import xarray as xr

from yieldkit.base.arrays import FloatArray
from yieldkit.config.site.site import Site
from yieldkit.physics.circuit.api import CellConditions
from yieldkit.study.simulation.planes import PlaneCells


def side_by_side(parts: list[CellConditions]) -> CellConditions:
    """Return the diode parameters of planes beside one another, each (time, plane)."""
    return CellConditions(
        *(
            np.ascontiguousarray(np.concatenate(arrays, axis=1))
            for arrays in zip(*parts, strict=True)
        )
    )


def planes_dataset(
    site: Site, weather: xr.Dataset, results: list[PlaneCells], p_mp: list[FloatArray]
) -> xr.Dataset:
    """Return what is known of planes at every step (time, plane).

    Parameters
    ----------
    site : Site
        Names of the planes.
    weather : Dataset
        Canonical weather (time).
    results : list of PlaneCells
        The planes' light and temperature.
    p_mp : list of ndarray
        Maximum of one of their modules standing alone [W] (time,).
    """
    names = [plane.name for plane in site.planes]
    columns = {
        "poa_global": [result.poa_global for result in results],
        "effective_irradiance": [result.effective_irradiance for result in results],
        "temp_cell": [result.temp_cell for result in results],
        "p_mp_module": p_mp,
    }
    return xr.Dataset(
        {name: (("time", "plane"), np.stack(values, axis=1)) for name, values in columns.items()},
        coords={"time": weather["time"].to_numpy(), "plane": names},
    )
