"""A second opinion on weather with gaps: what may be bridged, and what stays unknown."""

import numpy as np
import pandas as pd

_LIGHT = ("ghi", "dni", "dhi")


def bridged(
    table: pd.DataFrame, solar: pd.DataFrame, most_steps: float
) -> tuple[pd.DataFrame, np.ndarray]:
    """Return weather with short gaps bridged, and which steps have everything (time,).

    Light is bridged where the sun is up in the gap and on both sides of it, the rest anywhere.
    What stays unknown is dark and mild in the table, so that the state of the inputs is that of
    a night; it is of no total.

    Parameters
    ----------
    table : DataFrame
        Weather on a uniform raster, nan where the file lacks a value.
    solar : DataFrame
        The sun of each step.
    most_steps : float
        Longest gap that may be bridged, in steps.
    """
    up = (solar["zenith"] < 90.0).to_numpy()
    found = table.copy()
    for name in table:
        values = table[name].to_numpy(copy=True)
        step = 0
        while step < values.size:
            if not np.isnan(values[step]):
                step += 1
                continue
            last = step
            while last + 1 < values.size and np.isnan(values[last + 1]):
                last += 1
            inside = step > 0 and last + 1 < values.size and last + 1 - step <= most_steps
            if inside and (name not in _LIGHT or up[step - 1 : last + 2].all()):
                line = np.linspace(values[step - 1], values[last + 1], last - step + 3)
                values[step : last + 1] = line[1:-1]
            step = last + 1
            # The next search begins behind the gap, bridged or not.
        found[name] = values
    present = found.notna().all(axis=1).to_numpy()
    found.loc[~present] = 0.0
    found.attrs = table.attrs
    return found, present
