"""Values of standards as data, each with edition, clause and how it was known."""

from __future__ import annotations

from functools import cache
from importlib import resources

import pandas as pd


@cache
def standard_table(name: str) -> pd.DataFrame:
    """Return a table of standard values; every row carries its source and status.

    Parameters
    ----------
    name : str
        File name without its ending, such as "conductors".
    """
    path = resources.files(__name__) / f"{name}.csv"
    with path.open(encoding="utf-8") as stream:
        return pd.read_csv(stream)
