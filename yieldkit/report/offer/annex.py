"""What only an offer's annex tells beside the engineer's report: shadows, minutes, the run."""

from __future__ import annotations

from yieldkit.config.site.site import Site
from yieldkit.report.figures.picture import Picture
from yieldkit.report.markup import Html, template
from yieldkit.report.tables.html import sentences
from yieldkit.study.estimate.result import Estimate

_HEADING = template(
    '<div class="annex"><h2>Annex for engineers: {{ name }}</h2><p>{{ said }}</p></div>'
)


def annex_heading(estimate: Estimate) -> Html:
    """Return the annex's heading: of which wiring it tells, and what that may be called."""
    attrs = estimate.data.attrs
    said = f"Wiring: {attrs['chosen']}. {attrs['permission_sentence']}."
    if attrs["not_checked"]:
        said = f"{said} NOT CHECKED: {attrs['not_checked']}."
    return Html(_HEADING.render(name=attrs["site"], said=said))


def annex_light(estimate: Estimate, site: Site) -> tuple[Html | Picture, ...]:
    """Return what shadows take from each module, and what the weather's steps hide."""
    return (sentences([]),)
