"""Tables of energy: wirings side by side, losses, months, load of the inputs."""

from __future__ import annotations

import math
from typing import SupportsFloat

from yieldkit.report.markup import Html
from yieldkit.report.tables.html import sentences, table
from yieldkit.report.tables.terminal import nominal_year
from yieldkit.study.comparison.compare import Comparison
from yieldkit.study.comparison.months import monthly_table
from yieldkit.study.simulation.budget_steps import RATED
from yieldkit.study.simulation.limited_hours import limit_hours, limited_time

_SMALLEST_KWH = 0.05


def comparison_table(comparison: Comparison) -> Html:
    """Return the wirings side by side.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    """
    rows = [
        (
            name,
            _whole(row["energy_kwh"]),
            _whole(row["kwh_per_kwp"]),
            f"{row['difference_percent']:z.2f}",
            _whole(row["mismatch_kwh"]),
            _whole(row["clipped_hours"]),
            _whole(row["derated_hours"]),
            f"{row['modules_wired']} of {row['modules']}",
            row["permission"],
            row["not_checked"],
        )
        for name, row in comparison.table.iterrows()
    ]
    names = list(comparison.table.index)
    several = comparison.site.several_inverters
    end = "the meter" if several else "the far end of the AC lead"
    return table(
        (
            "wiring",
            f"kWh {comparison.period.head}",
            "kWh per kWp",
            "against highest, %",
            "mismatch, kWh",
            "clipped, h",
            "derated, h",
            "modules wired",
            "allowed",
            "NOT CHECKED",
        ),
        rows,
        f"Energy at {end}; kWp counts all modules on the site. Energies, kWh per kWp and hours: "
        f"{comparison.period.per}. {comparison.cable_note()} "
        f"{' '.join(nominal_year(comparison.period.is_year))}".strip(),
        numbers=(1, 2, 3, 4, 5, 6, 9),
        marked=names.index(comparison.best) if comparison.best in names else None,
    )


def budget_table(comparison: Comparison) -> Html:
    """Return every step of every loss budget [kWh].

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    """
    names = [name for name, _ in comparison.results]
    start = [float(result["potential"][0]) for _, result in comparison.results]
    rows: list[tuple[str, ...]] = [(RATED, *(_whole(each) for each in start))]
    without = []
    for step in comparison.budgets["loss_step"].to_numpy():
        values = comparison.budgets.sel(loss_step=step).to_numpy()
        if all(abs(value) < _SMALLEST_KWH for value in values):
            without.append(str(step))
        else:
            rows.append((str(step), *(_tenth(value) for value in values)))
    rows.append(
        ("delivered", *(_whole(result.attrs["energy_kwh"]) for _, result in comparison.results))
    )
    none = f" No loss in any wiring: {', '.join(without)}." if without else ""
    return table(
        ("step", *names),
        rows,
        f"Loss budget, kWh; a negative loss is a gain. The steps add up exactly.{none}",
        numbers=tuple(range(1, len(names) + 1)),
        marked=len(rows) - 1,
    )


def meter_table(comparison: Comparison) -> Html | None:
    """Return load, self-use, export and import of every wiring; None where there is no load.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    """
    attrs = [result.attrs for _, result in comparison.results]
    if not any(each["load_kwh"] > 0.0 for each in attrs):
        return None
    names = ("load_kwh", "self_use_kwh", "export_kwh", "import_kwh")
    why = next((each["self_use_upper_bound"] for each in attrs), "")
    most, least = (" at most", " at least") if why else ("", "")
    bound = f". What comes from the plant is an upper bound: {why}" if why else ""
    return table(
        ("wiring", "load", f"of it from the plant{most}", "exported", f"imported{least}"),
        [(each["wiring"], *(_whole(each[name]) for name in names)) for each in attrs],
        f"At the meter, kWh {comparison.period.per}; the load and the inverters' consumption at "
        f"night are imported where the plant doesn't cover them{bound}",
        numbers=(1, 2, 3, 4),
    )


def months_table(comparison: Comparison) -> Html:
    """Return delivered energy by month [kWh].

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    """
    months = monthly_table(comparison)
    rows = [(name, *(_whole(value) for value in row)) for name, row in months.iterrows()]
    rows.append(("all", *(_whole(months[name].sum(skipna=False)) for name in months.columns)))
    return table(
        ("month", *months.columns),
        rows,
        f"Delivered energy by month, kWh (local standard time){_lacking(comparison)}",
        numbers=tuple(range(1, len(months.columns) + 1)),
        marked=len(rows) - 1,
    )


def _lacking(comparison: Comparison) -> str:
    """Say what the months are of, where weather lacks in some."""
    period = comparison.period
    if period.is_year and not period.missing_steps:
        return ""
    return f"; {period.per}, of the time covered. {period.coverage_sentence()}"


def load_table(comparison: Comparison) -> Html:
    """Return the load of every input in every wiring.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    """
    rows = []
    for name, result in comparison.results:
        for tracker in result["tracker"].to_numpy():
            own = result.sel(tracker=tracker)
            rows.append(
                (
                    name,
                    tracker,
                    _whole(own["tracker_energy"]),
                    _whole(own["p_dc"].max()),
                    f"{float(own['v_dc'].where(own['p_dc'] > 0.0).min()):.0f}",
                    f"{float(own['v_dc'].max()):.0f}",
                    f"{float(own['i_dc'].max()):.1f}",
                    _whole(limit_hours(own)),
                )
            )
    return table(
        (
            "wiring",
            "input",
            "DC energy, kWh",
            "largest power, W",
            "lowest voltage, V",
            "highest voltage, V",
            "largest current, A",
            "held by a limit, h",
        ),
        rows,
        "Load of each input while it runs, and how long a limit moved or held it",
        numbers=(2, 3, 4, 5, 6, 7),
    )


def limits_table(comparison: Comparison) -> Html:
    """Return by which limits the wirings are held back, for how long and at what cost.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    """
    rows = [
        (
            name,
            each.cause,
            f"{each.hours:.0f}",
            "in the loss budget" if math.isnan(each.kwh) else f"{each.kwh:.1f}",
        )
        for name, result in comparison.results
        for each in limited_time(result)
    ]
    if not rows:
        return sentences(["No limit of an input, of the AC side or of the network holds any back."])
    return table(
        ("wiring", "limit", f"hours {comparison.period.head}", "held back, kWh"),
        rows,
        "What holds the wirings back; an input's limit counts for the input it holds longest",
        numbers=(2, 3),
    )


def _whole(value: SupportsFloat) -> str:
    """Return a number without decimals; a missing one says so."""
    number = float(value)
    return "missing" if math.isnan(number) else f"{number:,.0f}"


def _tenth(value: float) -> str:
    return "missing" if math.isnan(value) else f"{round(float(value), 1) + 0.0:,.1f}"
