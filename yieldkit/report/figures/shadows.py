"""The roof from outside in shades of what shadows take from each module, and their worst days."""

from __future__ import annotations

from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from yieldkit.config.models.planes import ModulePosition
from yieldkit.config.site.site import Site
from yieldkit.report.figures.picture import (
    INK,
    SMALL,
    WIDTH,
    Picture,
    fitted,
    halo,
    label,
)
from yieldkit.report.figures.roof import drawn_size, edge_names, place_middle
from yieldkit.report.markup import Html
from yieldkit.report.tables.html import table
from yieldkit.study.simulation.module_shadows import ShadedModules, Shadows

_GAP, _TITLE = 0.3, 0.3
_SHRINK = 0.92
_PALEST, _DARKEST = 1.0, 0.35
_WORST_TOLD = 4


def shadows_picture(site: Site, shadows: Shadows, name: str) -> Picture:
    """Draw the shaded planes, each module with what shadows take from it and its string's number.

    Parameters
    ----------
    site : Site
        The site.
    shadows : Shadows
        From a comparison's details.
    name : str
        The wiring.
    """
    strings = dict(shadows.strings)[name]
    planes = [next(p for p in site.planes if p.name == own.plane) for own in shadows.planes]
    sizes = [drawn_size(site, plane) for plane in planes]
    height = sum(size[1] + _TITLE + _GAP for size in sizes)
    figure = Figure(figsize=(WIDTH, height))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0.0, WIDTH)
    axes.set_ylim(0.0, height)
    axes.axis("off")
    most = max(max(own.lost_kwh) for own in shadows.planes) or 1.0
    top = height
    for plane, own, hangs, (pitch, tall) in zip(
        planes, shadows.planes, strings, sizes, strict=True
    ):
        upper, lower = edge_names(plane)
        bottom = top - _TITLE - tall
        title = f"{fitted(plane.name, WIDTH - 1.5)}: {upper}"
        axes.text(0.05, top - _TITLE / 2, title, fontsize=SMALL, va="center")
        axes.text(0.05, bottom - 0.1, lower, fontsize=SMALL, va="center")
        for place, lost, string in zip(plane.places, own.lost_kwh, hangs, strict=True):
            x, y = place_middle(plane, pitch, bottom, place.row, place.column)
            wide, high = _SHRINK * pitch[0], _SHRINK * pitch[1]
            tone = _PALEST - (_PALEST - _DARKEST) * max(lost, 0.0) / most
            corner = (x - wide / 2, y - high / 2)
            fill = (tone, tone, tone)
            axes.add_patch(
                Rectangle(corner, wide, high, facecolor=fill, edgecolor=INK, linewidth=0.6)
            )
            number = str(string) if string else "–"
            for text, down, weight in ((number, 0.26, "bold"), (f"{lost:.1f}", -0.16, "normal")):
                axes.annotate(
                    text,
                    (x, y + down * high),
                    ha="center",
                    va="center",
                    fontsize=SMALL - 1.0,
                    fontweight=weight,
                    path_effects=halo(),
                )
        top -= tall + _TITLE + _GAP
    said = "; ".join(
        _worst(plane.places, own) for plane, own in zip(planes, shadows.planes, strict=True)
    )
    return Picture(
        figure,
        f"Planes in shadow, from outside, with the strings of {label(name)}. {said}.",
        f"What shadows take from each module at the maxima of its own cell groups, in kWh: the "
        f"darker, the more. Above it the number of its string in {label(name)}, – where it isn't "
        "wired. What the strings lose beyond that stands under series and parallel mismatch in the "
        "losses.",
    )


def _worst(places: tuple[ModulePosition, ...], own: ShadedModules) -> str:
    """Return a plane's most shaded modules in words."""
    order = sorted(range(len(places)), key=lambda at: -own.lost_kwh[at])[:_WORST_TOLD]
    told = ", ".join(
        f"row {places[at].row} column {places[at].column} {own.lost_kwh[at]:.1f} kWh"
        for at in order
    )
    total, all_of = sum(own.lost_kwh), own.without_kwh * len(own.lost_kwh)
    share = 100.0 * total / all_of if all_of else 0.0
    return f"{own.plane}: {total:.0f} kWh or {share:.1f} % of its modules' own maxima; most {told}"


def shadows_table(shadows: Shadows) -> Html:
    """Return the days on which shadows take most, and the hours of the day in which they do."""
    total = sum(shadows.hours_kwh)
    hours = sorted(range(24), key=lambda hour: -shadows.hours_kwh[hour])[:3]
    worst = ", ".join(f"{hour:02d} to {hour + 1:02d} h" for hour in sorted(hours))
    share = 100.0 * sum(shadows.hours_kwh[hour] for hour in hours) / total if total else 0.0
    rows = [(day.date, f"{day.begin} to {day.end}", f"{day.lost_kwh:.1f}") for day in shadows.days]
    return table(
        ("day", "hours", "shadows take, kWh"),
        rows,
        f"The days on which shadows take most from all modules, in local standard time. Of all "
        f"that they take {share:.0f} % falls into the hours {worst}.",
        numbers=(2,),
    )
