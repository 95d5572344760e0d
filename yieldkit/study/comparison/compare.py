"""Several wirings of one site side by side: ranking, and the difference split by cause."""

from __future__ import annotations

from dataclasses import dataclass, field

import pandas as pd
import xarray as xr

from yieldkit.base.display import Card, short_name
from yieldkit.base.errors import refuse
from yieldkit.base.progress import Progress, silent
from yieldkit.config.site.display import refuse_other_than_site
from yieldkit.config.site.site import Site
from yieldkit.design.checks.findings import Findings
from yieldkit.design.checks.limits import check, refuse_unknown_wiring
from yieldkit.design.checks.permission import Permission, permission
from yieldkit.study.comparison.answer import Answer
from yieldkit.study.comparison.better import Better, look_for_better
from yieldkit.study.comparison.details import SHOWN_IN_DETAIL, Details, details_of
from yieldkit.study.comparison.side_by_side import side_by_side
from yieldkit.study.simulation.period import Period
from yieldkit.study.simulation.prepare import Prepared, prepare
from yieldkit.study.simulation.simulate import simulate_wirings
from yieldkit.study.simulation.unsolved import prepared_like
from yieldkit.study.simulation.weather import site_weather

_MOST_SHOWN = 10


@dataclass
class Asked:
    """What a comparison computes on request, kept so that nothing is computed twice.

    Parameters
    ----------
    prepared : Prepared, optional
        The wiring-free part.
    better : Better, optional
        What a look at all other wirings says.
    details : Details, optional
        What a report tells beside the comparison.
    """

    prepared: Prepared | None = None
    better: Better | None = None
    details: Details | None = None


@dataclass(frozen=True)
class Comparison:
    """What `compare` found.

    Parameters
    ----------
    site : Site
        The site compared.
    weather : Dataset
        Canonical weather (time).
    period : Period
        What time the weather covers, hence what the energies are of.
    remarks, assumptions : tuple of str
        What must be said of the weather beside every energy, and what all of them rest on.
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
    answer : Answer
        The winner, and how each other wiring stands to it.
    """

    site: Site
    weather: xr.Dataset
    period: Period
    remarks: tuple[str, ...]
    assumptions: tuple[str, ...]
    results: tuple[tuple[str, xr.Dataset], ...]
    findings: tuple[tuple[str, Findings], ...]
    table: pd.DataFrame
    budgets: xr.DataArray
    best: str | None
    answer: Answer
    asked: Asked = field(default_factory=Asked, repr=False, compare=False)
    """What was computed on request so far; asked for by methods, not by hand."""

    def __repr__(self) -> str:
        return self._card().text()

    def _repr_html_(self) -> str:
        return self._card().html()

    def _card(self) -> Card:
        ranked = self.table.sort_values("energy_kwh", ascending=False)
        rows = [
            (
                short_name(str(name), 30),
                f"{row['energy_kwh']:,.0f} kWh {self.period.per}, "
                f"{row['difference_percent']:.2f} % to the most; {row['permission']}",
            )
            for name, row in ranked.head(_MOST_SHOWN).iterrows()
        ]
        best = "none permitted" if self.best is None else f"best '{short_name(self.best)}'"
        title = f"{len(self.results)} wirings of '{short_name(self.site.site.name)}': {best}"
        hint = "Ask it for .verdict, .table, .budgets, .difference(wiring), .result(wiring)."
        return Card(title, tuple(rows), hint)

    @property
    def verdict(self) -> str:
        """The answer in words."""
        return self.answer.text()

    @property
    def prepared(self) -> Prepared:
        """The wiring-free part, for further questions; of a loaded comparison made when asked."""
        if self.asked.prepared is None:
            self.asked.prepared = prepared_like(self.results[0][1], self.site, self.weather)
        return self.asked.prepared

    def better(self, progress: Progress | None = None) -> Better:
        """Return whether `propose` would find better than the best; looked for once.

        Parameters
        ----------
        progress : callable, optional
            As for `propose`.
        """
        if self.asked.better is None:
            self.asked.better = look_for_better(self.prepared, self.best, self.table, progress)
        return self.asked.better

    def details(self, progress: Progress | None = None) -> Details:
        """Return what a report tells beside the comparison; computed once.

        Parameters
        ----------
        progress : callable, optional
            As for `propose`.

        Returns
        -------
        Details
            The look for a better wiring, days and curves of up to four wirings, every size of the
            AC lead, and the yield with neighbouring ways of mounting.
        """
        if self.asked.details is None:
            better = self.better(progress)
            named = {wiring.name: wiring for wiring in self.site.wirings}
            shown = tuple(named[name] for name in self.in_detail())
            self.asked.details = details_of(self.prepared, shown, better, progress)
        return self.asked.details

    def reference(self) -> str:
        """Return the wiring that others are compared with: the best, else the first."""
        return self.best or self.results[0][0]

    def in_detail(self) -> tuple[str, ...]:
        """Return the wirings to look at closely: the reference first, then by yield."""
        base = self.reference()
        by_yield = self.table["energy_kwh"].sort_values(ascending=False).index
        order = [base, *(str(name) for name in by_yield if name != base)]
        return tuple(order[:SHOWN_IN_DETAIL])

    def cable_note(self) -> str:
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
    progress: Progress | None = None,
) -> Comparison:
    """Simulate every wiring of a site on the same weather and say which is best.

    Parameters
    ----------
    site : Site
        The site with its wirings.
    weather : Dataset, optional
        Canonical weather; read from the site's file if left out.
    progress : callable, optional
        Called with "wirings", how many are done and how many there are.

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
    KeyboardInterrupt
        If the answer to `progress` is to stop.
    """
    refuse_other_than_site(site, Site)
    prepared = prepare(site, site_weather(site) if weather is None else weather)
    prepared, found = simulate_wirings(prepared, site.wirings, progress or silent)
    names = [wiring.name for wiring in site.wirings]
    results = list(zip(names, found, strict=True))
    findings = tuple((wiring.name, check(site, wiring.name)) for wiring in site.wirings)
    return Comparison(
        site=site,
        weather=prepared.weather,
        period=prepared.period,
        remarks=prepared.remarks,
        assumptions=prepared.assumptions,
        findings=findings,
        asked=Asked(prepared=prepared),
        **side_by_side(site.wirings, results, findings, prepared.period.per)._asdict(),
    )
