"""What only an offer's annex tells beside the engineer's report: shadows, minutes, the run."""

from __future__ import annotations

from yieldkit.config.site.site import Site
from yieldkit.report.figures.picture import Picture
from yieldkit.report.figures.shadows import shadows_picture, shadows_table
from yieldkit.report.markup import Html, template
from yieldkit.report.tables.html import sentences
from yieldkit.report.tables.terminal import minutes_told
from yieldkit.study.estimate.result import Estimate

_HEADING = template(
    '<div class="annex"><h2>Annex for engineers: {{ name }}</h2><p>{{ said }}</p></div>'
)
_UNSHADED = "Nothing that the site file describes shades any module, beside a far horizon."


def annex_heading(estimate: Estimate) -> Html:
    """Return the annex's heading: of which wiring it tells, and what that may be called."""
    attrs = estimate.data.attrs
    allowed = str(attrs["permission_sentence"])
    said = f"Wiring: {attrs['chosen']}. {allowed[0].upper()}{allowed[1:]}."
    if attrs["not_checked"]:
        said = f"{said} NOT CHECKED: {attrs['not_checked']}."
    return Html(_HEADING.render(name=attrs["site"], said=said))


def annex_light(estimate: Estimate, site: Site) -> tuple[Html | Picture, ...]:
    """Return what shadows take from each module, and what the weather's steps hide.

    Parameters
    ----------
    estimate : Estimate
        What `estimate` returned.
    site : Site
        The site that it is of.

    Returns
    -------
    tuple of Html or Picture
        The shaded planes with their worst days where something shades any, and sentences.
    """
    shadows = estimate.shadows
    if shadows is None:
        return (sentences([_UNSHADED, _minutes(estimate)]),)
    wiring = str(estimate.data.attrs["wiring"])
    return (
        shadows_picture(site, shadows, wiring),
        shadows_table(shadows),
        sentences([_minutes(estimate)]),
    )


def _minutes(estimate: Estimate) -> str:
    """Return between what the nominal year lies by the minutes that the steps hide."""
    attrs = estimate.data.attrs
    if "even_light_kwh" not in attrs:
        return (
            "What light does within the weather's steps isn't drawn: every step has even light, so "
            "that limits hit by bright minutes take more than is shown (NOT CHECKED)."
        )
    return f"Nominal year. {minutes_told(estimate.nominal_kwh, attrs)}"
