"""Tables of a result by their names: each a CSV file, and rows of the result's JSON."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pandas as pd

from yieldkit.base.files import write_table


def write_tables(tables: Mapping[str, pd.DataFrame], kind: str, folder: Path, run: str) -> None:
    """Write tables as CSV under the id of a run, in files named by kind of result and table.

    Parameters
    ----------
    tables : mapping of str to DataFrame
        By their names, units in the heads.
    kind : str
        Kind of result.
    folder : Path
        Where to.
    run : str
        The run's id, which stands in every row.
    """
    for name, table in tables.items():
        write_table(folder / f"{kind}-{name}.csv", table.assign(run=run))


def tables_content(tables: Mapping[str, pd.DataFrame]) -> dict[str, list[dict[str, Any]]]:
    """Return tables as rows of plain values for JSON; what nobody knows is null.

    Parameters
    ----------
    tables : mapping of str to DataFrame
        By their names.
    """
    return {
        name: json.loads(table.to_json(orient="records", double_precision=10))
        for name, table in tables.items()
    }
