"""A simulated wiring as text for a terminal, and the rows that others are told in as well."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

import xarray as xr

from yieldkit.base.plain_text import plain_line
from yieldkit.config.site.site import Site
from yieldkit.study.simulation.budget_steps import RATED, left_out
from yieldkit.study.simulation.limited_hours import limit_hours

WIDTH = 80
_LONGEST_STEP = 42


def stacked(
    names: Sequence[str],
    numbers: Sequence[tuple[str, ...]],
    below: Sequence[Sequence[str]],
    width: int,
) -> list[str]:
    """Return a table with a head; what doesn't fit beside the numbers stands below each row.

    Names get a line of their own where the terminal is narrow.

    Parameters
    ----------
    names : sequence of str
        The rows, the head's first.
    numbers : sequence of tuple of str
        What each row says, the head's first.
    below : sequence of sequence of str
        What stands below each row but the head.
    width : int
        Columns of the terminal.
    """
    names = [plain_line(name) for name in names]
    columns = [max(map(len, column)) for column in zip(*numbers, strict=True)]
    room = max(width - sum(columns) - 2 * len(columns), len("wiring"))
    beside = min(max(map(len, names)), room)
    apart = max(map(len, names)) > room
    lines = []
    for place, (name, row) in enumerate(zip(names, numbers, strict=True)):
        cells = "".join(f"  {cell:>{size}}" for cell, size in zip(row, columns, strict=True))
        if apart and place:
            lines += [filled(name, width), " " * beside + cells]
        else:
            lines.append(f"{name:{beside}}{cells}")
        for text in below[place - 1] if place else ():
            lines.append(filled(text, width, "    "))
    return lines


def filled(text: str, width: int, indent: str = "") -> str:
    """Return a text in lines of a terminal's width, each after an indent."""
    return textwrap.fill(plain_line(text), width, initial_indent=indent, subsequent_indent=indent)


def before_losses(sites: Sequence[Site]) -> str:
    """Return the sentence that says which losses are not included.

    Parameters
    ----------
    sites : sequence of Site
        What is modelled for some sites only is told where it isn't for one of these.
    """
    return before(", ".join(left_out(*sites)))


def before(lacking: str) -> str:
    """Return the sentence that says which losses, in words, are not included."""
    return f"Before {lacking}. A design aid, not a certificate."


def nominal_year(is_year: bool) -> tuple[str, ...]:
    """Return what kind of year an energy is of, where it is a year's at all.

    Parameters
    ----------
    is_year : bool
        Whether the weather is one year or several.
    """
    if not is_year:
        return ()
    return (
        "Nominal energy: the site file as it stands, nothing drawn. The likely year, and what nine "
        "of ten exceed, says `yieldkit estimate`.",
    )


def result_text(result: xr.Dataset, width: int = WIDTH) -> str:
    """Return a simulated wiring's yield, its trackers and its loss budget as text.

    Parameters
    ----------
    result : Dataset
        What `simulate` returned.
    width : int
        Columns of the terminal.
    """
    attrs = result.attrs
    answer = (
        f"{attrs['wiring']}: {attrs['energy_kwh']:,.0f} kWh delivered {attrs['period']}, "
        f"{attrs['kwh_per_kwp']:.0f} kWh/kWp of {attrs['kwp']:.2f} kWp"
    )
    names, numbers = ["input"], [("DC energy", "highest", "limited")]
    for tracker in result["tracker"].to_numpy():
        own = result.sel(tracker=tracker)
        names.append(str(tracker))
        numbers.append(
            (
                f"{float(own['tracker_energy']):,.0f} kWh",
                f"{float(own['p_dc'].max()):,.0f} W",
                f"{limit_hours(own):.0f} h",
            )
        )
    remarks = [attrs["weather_remarks"]] if attrs["weather_remarks"] else []
    lines = [
        filled(answer, width),
        "",
        *stacked(names, numbers, [[]] * len(names), width),
        "",
        *_budget_lines(result, width),
        "",
        *(
            filled(text, width)
            for text in (
                *_at_the_meter(result),
                *within_steps(result),
                *remarks,
                *nominal_year(bool(attrs["is_year"])),
                before(attrs["left_out"]),
            )
        ),
    ]
    return "\n".join(lines)


def within_steps(result: xr.Dataset) -> list[str]:
    """Return what a yield would be under even and under extreme light, where that was asked.

    Parameters
    ----------
    result : Dataset
        What `simulate` returned.
    """
    attrs = result.attrs
    if "even_light_kwh" not in attrs:
        return []
    return [minutes_told(attrs["energy_kwh"], attrs)]


def minutes_told(energy_kwh: float, attrs: Mapping[str, Any]) -> str:
    """Return in a sentence between what a yield lies by the minutes that steps hide.

    Parameters
    ----------
    energy_kwh : float
        The yield [kWh].
    attrs : mapping
        With the wiring's name and its yield under even and under extreme light.
    """
    even, least = float(attrs["even_light_kwh"]), float(attrs["all_or_nothing_kwh"])
    snapshots = math.isclose(energy_kwh, even, rel_tol=1e-9)
    drawn = "with nothing drawn, for snapshots are no means" if snapshots else "with minutes drawn"
    return (
        f"What the weather's steps hide, on '{attrs['wiring']}': {energy_kwh:,.0f} kWh "
        f"{drawn}; {even:,.0f} kWh with even light in every step, "
        f"{least:,.0f} kWh with the sun of the clearest hours or none at all."
    )


def _at_the_meter(result: xr.Dataset) -> list[str]:
    """Return where the energy goes, where there is a load behind the meter."""
    attrs = result.attrs
    if not attrs["load_kwh"] > 0.0:
        return []
    why = attrs["self_use_upper_bound"]
    most, least = ("at most ", "at least ") if why else ("", "")
    lines = [
        f"At the meter: load {attrs['load_kwh']:,.0f} kWh, "
        f"of it {most}{attrs['self_use_kwh']:,.0f} kWh from the plant; "
        f"exported {attrs['export_kwh']:,.0f} kWh, "
        f"imported {least}{attrs['import_kwh']:,.0f} kWh {attrs['period']}."
    ]
    if why:
        lines.append(f"What comes from the plant is an upper bound: {why}.")
    return lines


def _budget_lines(result: xr.Dataset, width: int) -> list[str]:
    """Return the loss budget, a step a line; a name that is too long has a line of its own."""
    nameplate = float(result["potential"][0])
    rows = [(RATED, nameplate, "")]
    for step, loss in zip(
        result["loss_step"].to_numpy(), result["loss_budget"].to_numpy(), strict=True
    ):
        if abs(loss) >= 0.05:
            char = "-" if loss > 0 else "+"
            share = f"{100.0 * abs(loss) / nameplate:.2f} %" if nameplate else ""
            rows.append((f"  {char} {step}", abs(float(loss)), share))
    rows.append(("delivered", result.attrs["energy_kwh"], ""))
    tails = [f"{kwh:10,.0f} kWh {share:>8}".rstrip() for _, kwh, share in rows]
    room = min(_LONGEST_STEP, width - max(map(len, tails)))
    lines = []
    for (name, _, _), tail in zip(rows, tails, strict=True):
        if len(name) > room:
            indent = name[: len(name) - len(name.lstrip())]
            lines.append(filled(name.strip(), width, indent))
            name = ""
        lines.append(f"{name:{room}}{tail}")
    return lines
