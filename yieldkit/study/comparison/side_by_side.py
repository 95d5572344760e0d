"""Results of several wirings side by side: table, loss budgets, the best, and the answer."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import pandas as pd
import xarray as xr

from yieldkit.config.site.site import Wiring
from yieldkit.design.checks.findings import COSTS_YIELD, NOT_PERMITTED, Findings
from yieldkit.design.checks.permission import FORBIDDEN, permission
from yieldkit.study.comparison.answer import Answer, answer


class SideBySide(NamedTuple):
    """Results of several wirings side by side; fields as in `Comparison`."""

    results: tuple[tuple[str, xr.Dataset], ...]
    table: pd.DataFrame
    budgets: xr.DataArray
    best: str | None
    answer: Answer


def side_by_side(
    wirings: Sequence[Wiring],
    results: Sequence[tuple[str, xr.Dataset]],
    findings: Sequence[tuple[str, Findings]],
    per: str,
) -> SideBySide:
    """Return what the results of wirings say side by side.

    Parameters
    ----------
    wirings : sequence of Wiring
        The wirings.
    results : sequence of (str, Dataset)
        Wiring name and its simulated result, in the same order.
    findings : sequence of (str, Findings)
        Wiring name and its electrical findings, in the same order.
    per : str
        What the energies are of, such as "a year".
    """
    budgets = xr.concat(
        [result["loss_budget"] for _, result in results],
        dim=pd.Index([name for name, _ in results], name="wiring"),
        join="exact",
    )
    table = _table(wirings, results, findings)
    best = _best(table)
    said = answer(table, budgets, best, dict(findings), per)
    return SideBySide(tuple(results), table, budgets, best, said)


def _table(
    wirings: Sequence[Wiring],
    results: Sequence[tuple[str, xr.Dataset]],
    findings: Sequence[tuple[str, Findings]],
) -> pd.DataFrame:
    rows = []
    for wiring, (name, result), (_, found) in zip(wirings, results, findings, strict=True):
        attrs = result.attrs
        verdicts = [finding.verdict for finding in found]
        allowed = permission(found)
        lost = dict(
            zip(
                result.variables["loss_step"].to_numpy().tolist(),
                result.variables["loss_budget"].to_numpy().tolist(),
                strict=True,
            )
        )
        rows.append(
            {
                "wiring": name,
                "energy_kwh": attrs["energy_kwh"],
                "kwh_per_kwp": attrs["kwh_per_kwp"],
                "modules_wired": int(result.variables["modules_wired"].to_numpy().sum()),
                "modules": int(result.variables["modules"].to_numpy().sum()),
                "strings": sum(len(tracker.strings) for tracker in wiring.trackers),
                "clipped_hours": attrs["clipped_hours"],
                "clipped_kwh": lost["AC limit"],
                "derated_hours": attrs["derated_hours"],
                "derated_kwh": lost["temperature derating"],
                "mismatch_kwh": lost["series mismatch"] + lost["parallel mismatch"],
                "permission": allowed.word,
                "not_permitted": verdicts.count(NOT_PERMITTED),
                "not_checked": allowed.not_checked,
                "essential_not_checked": len(allowed.essential),
                "costs_yield": verdicts.count(COSTS_YIELD),
            }
        )
    table = pd.DataFrame(rows).set_index("wiring")
    best = table["energy_kwh"].max()
    table.insert(1, "difference_percent", 100.0 * (table["energy_kwh"] / best - 1.0))
    return table


def _best(table: pd.DataFrame) -> str | None:
    allowed = table[table["permission"] != FORBIDDEN]
    if allowed.empty or allowed["energy_kwh"].isna().all():
        return None
    return str(allowed["energy_kwh"].idxmax())
