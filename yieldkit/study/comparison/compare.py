"""Several wirings of one site side by side: ranking, and the difference split by cause."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.display import Card, short_name
from yieldkit.base.errors import refuse
from yieldkit.config.site.display import refuse_other_than_site
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.checks.findings import COSTS_YIELD, NOT_PERMITTED, Findings
from yieldkit.design.checks.limits import check, refuse_unknown_wiring
from yieldkit.design.checks.permission import FORBIDDEN, Permission, permission
from yieldkit.study.simulation.loss_budget import STEPS
from yieldkit.study.simulation.prepare import Prepared, prepare
from yieldkit.study.simulation.simulate import simulate_wirings
from yieldkit.study.simulation.weather import site_weather

SAME_WITHIN_PERCENT = 0.2
"""Differences below this are called equal: no model of today tells them apart."""
_MOST_SHOWN = 10


@dataclass(frozen=True)
class Comparison:
    """What `compare` found.

    Parameters
    ----------
    site : Site
        The site compared.
    prepared : Prepared
        The wiring-free part, for figures and further questions.
    results : tuple of (str, Dataset)
        Wiring name and its simulated result, in the site file's order.
    findings : tuple of (str, Findings)
        Wiring name and its electrical findings.
    table : DataFrame
        One row per wiring.
    budgets : DataArray
        Loss budget [kWh] (wiring, loss_step).
    best : str or None
        The recommended wiring, the best of those with nothing forbidden; None when all are
        forbidden.
    verdict : str
        The answer in words.
    """

    site: Site
    prepared: Prepared
    results: tuple[tuple[str, xr.Dataset], ...]
    findings: tuple[tuple[str, Findings], ...]
    table: pd.DataFrame
    budgets: xr.DataArray
    best: str | None
    verdict: str

    def __repr__(self) -> str:
        return self._card().text()

    def _repr_html_(self) -> str:
        return self._card().html()

    def _card(self) -> Card:
        ranked = self.table.sort_values("energy_kwh", ascending=False)
        rows = [
            (
                short_name(str(name), 30),
                f"{row['energy_kwh']:,.0f} kWh {self.prepared.period.per}, "
                f"{row['difference_percent']:.2f} % to the most; {row['permission']}",
            )
            for name, row in ranked.head(_MOST_SHOWN).iterrows()
        ]
        best = "none permitted" if self.best is None else f"best '{short_name(self.best)}'"
        title = f"{len(self.results)} wirings of '{short_name(self.site.site.name)}': {best}"
        hint = "Ask it for .verdict, .table, .budgets, .difference(wiring), .result(wiring)."
        return Card(title, tuple(rows), hint)

    def cable_words(self) -> str:
        """Return with which cables the energies are, and why `propose` may give others."""
        said = "Cables have the lengths of the site file"
        if not any(plane.places for plane in self.site.planes):
            return f"{said}."
        return (
            f"{said}; `yieldkit propose` takes those that the strings' places on the roof need, so "
            "that its energies of the same wirings differ a little."
        )

    def result(self, wiring: str) -> xr.Dataset:
        """Return a wiring's result by its name; `InputError` for a name that there isn't."""
        self._refuse_unknown(wiring)
        return dict(self.results)[wiring]

    def permission(self, wiring: str) -> Permission:
        """Return what a wiring may be called, by its name; `InputError` as for `result`."""
        self._refuse_unknown(wiring)
        return permission(dict(self.findings)[wiring])

    def difference(self, wiring: str, against: str | None = None) -> xr.DataArray:
        """Return what `wiring` loses more than `against`, by cause [kWh] (loss_step).

        The steps add up to the difference of the two delivered energies.

        Parameters
        ----------
        wiring : str
            Name of a wiring.
        against : str, optional
            Name of the other one; the best if left out.

        Raises
        ------
        InputError
            For a name that there isn't, and where none is the best.
        """
        self._refuse_unknown(wiring)
        if against is None and self.best is None:
            refuse("against", "nothing", "a name, for no wiring here is permitted, hence none best")
        against = against or str(self.best)
        self._refuse_unknown(against)
        return self.budgets.sel(wiring=wiring, drop=True) - self.budgets.sel(
            wiring=against, drop=True
        )

    def _refuse_unknown(self, wiring: object) -> None:
        known = [name for name, _ in self.results]
        if wiring not in known:
            refuse_unknown_wiring(wiring, known)


def compare(
    site: Site,
    weather: xr.Dataset | None = None,
    progress: Callable[[str], object] | None = None,
) -> Comparison:
    """Simulate every wiring of a site on the same weather and say which is best.

    Parameters
    ----------
    site : Site
        The site with its wirings.
    weather : Dataset, optional
        Canonical weather; read from the site's file if left out.
    progress : callable, optional
        Called with the name of each wiring before it is simulated.

    Returns
    -------
    Comparison
        Results, table, loss budgets and the verdict. A wiring that is not permitted is shown
        with its yield and never recommended; one is called permitted only when every essential
        limit was checked.

    Raises
    ------
    InputError
        If the site is none, or the weather can't be read.
    """
    refuse_other_than_site(site, Site)
    prepared = prepare(site, site_weather(site) if weather is None else weather)
    prepared, found = simulate_wirings(prepared, site.wirings, progress or _silent)
    names = [wiring.name for wiring in site.wirings]
    return compared(site, prepared, list(zip(names, found, strict=True)))


def _silent(_name: str) -> None:
    """Tell nobody."""


def compared(
    site: Site, prepared: Prepared, results: Sequence[tuple[str, xr.Dataset]]
) -> Comparison:
    """Return what the results of all wirings of a site say side by side.

    Parameters
    ----------
    site : Site
        The site.
    prepared : Prepared
        What its wirings share.
    results : sequence of (str, Dataset)
        Wiring name and its simulated result, in the site file's order.
    """
    findings = tuple((wiring.name, check(site, wiring.name)) for wiring in site.wirings)
    budgets = xr.concat(
        [result["loss_budget"] for _, result in results],
        dim=pd.Index([name for name, _ in results], name="wiring"),
        join="exact",
    )
    table = _table(site.wirings, results, findings)
    best = _best(table)
    return Comparison(
        site=site,
        prepared=prepared,
        results=tuple(results),
        findings=findings,
        table=table,
        budgets=budgets,
        best=best,
        verdict=_verdict(table, budgets, best, dict(findings), prepared.period.per),
    )


def _table(
    wirings: tuple[Wiring, ...],
    results: Sequence[tuple[str, xr.Dataset]],
    findings: tuple[tuple[str, Findings], ...],
) -> pd.DataFrame:
    rows = []
    for wiring, (name, result), (_, found) in zip(wirings, results, findings, strict=True):
        attrs = result.attrs
        verdicts = [finding.verdict for finding in found]
        allowed = permission(found)
        rows.append(
            {
                "wiring": name,
                "energy_kwh": attrs["energy_kwh"],
                "kwh_per_kwp": attrs["kwh_per_kwp"],
                "modules_wired": int(result["modules_wired"].sum()),
                "modules": int(result["modules"].sum()),
                "strings": sum(len(tracker.strings) for tracker in wiring.trackers),
                "clipped_hours": attrs["clipped_hours"],
                "clipped_kwh": float(result["loss_budget"].sel(loss_step="AC limit")),
                "derated_hours": attrs["derated_hours"],
                "derated_kwh": float(result["loss_budget"].sel(loss_step="temperature derating")),
                "mismatch_kwh": float(
                    result["loss_budget"]
                    .sel(loss_step=["series mismatch", "parallel mismatch"])
                    .sum()
                ),
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


def _verdict(
    table: pd.DataFrame,
    budgets: xr.DataArray,
    best: str | None,
    findings: dict[str, Findings],
    per: str,
) -> str:
    """Say which wiring wins, by how much over the next, and what decides."""
    if best is None:
        return "None of these wirings is permitted as drawn: see the findings."
    energy = float(table["energy_kwh"].loc[best])
    called = permission(findings[best]).best_of()
    sentence = f"'{best}' yields most: {energy:,.0f} kWh {per} ({called})"
    free = table[(table["permission"] != FORBIDDEN) & (table.index != best)]
    others = free.sort_values("energy_kwh", ascending=False)
    if others.empty:
        alone = len(table) == 1
        return f"{sentence}." if alone else f"{sentence}. Every other wiring here is {FORBIDDEN}."
    parts = []
    for name, row in others.iterrows():
        gap = energy - float(row["energy_kwh"])
        percent = 100.0 * gap / energy
        if percent < SAME_WITHIN_PERCENT:
            parts.append(f"'{name}' is equal within {SAME_WITHIN_PERCENT} %")
            continue
        extra = budgets.sel(wiring=name) - budgets.sel(wiring=best)
        cause = STEPS[int(np.argmax(extra.to_numpy()))]
        parts.append(f"'{name}' yields {gap:,.0f} kWh ({percent:.1f} %) less, mostly {cause}")
    return f"{sentence}; " + "; ".join(parts) + "."
