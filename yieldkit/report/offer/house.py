"""What a plant replaces in its building, for the customer: self-use, export, import."""

from __future__ import annotations

from markupsafe import Markup

from yieldkit.config.site.site import Site
from yieldkit.report.markup import template
from yieldkit.report.words.language import Language
from yieldkit.study.estimate.result import Estimate

_HOUSE = template(
    '<section class="block house"><h2>{{ head }}</h2><table><thead><tr><td></td>'
    '{% for each in heads %}<th scope="col" class="number">{{ each }}</th>{% endfor %}'
    "</tr></thead><tbody>{% for name, likely, cautious in rows %}"
    '<tr><th scope="row">{{ name }}</th><td class="number">{{ likely }}</td>'
    '<td class="number">{{ cautious }}</td></tr>{% endfor %}</tbody></table>'
    '<p class="small">{{ said }}</p></section>',
    unbroken=True,
)
_LINES = {
    "self-use": ("self use", "at most"),
    "export": ("export", "at least"),
    "import": ("import", "at least"),
    "share of the load": ("covered", "at most"),
}
"""Lines of `Estimate.house`: what each is called, and what it is where self-use is a bound."""


def house_block(estimate: Estimate, site: Site, language: Language) -> Markup:
    """Return what a plant replaces in its building; nothing where no load is stated.

    Parameters
    ----------
    estimate : Estimate
        What `estimate` returned.
    site : Site
        The site that it is of.
    language : Language
        The customer's.
    """
    table = estimate.house
    if table is None:
        return Markup("")
    bound = bool(estimate.data.attrs["self_use_upper_bound"])
    units = table["unit"].to_dict()
    columns = [table[which].astype(float).to_dict() for which in ("likely", "cautious")]
    rows = []
    for line, (name, at) in _LINES.items():
        values = [language.amount(column[line], str(units[line])) for column in columns]
        told = [language.say(at, value=value) for value in values] if bound else values
        rows.append((language.say(name), *told))
    said = [
        language.say("house said"),
        language.say("consumption", energy=language.kwh(columns[0]["load"])),
    ]
    if bound:
        said.append(language.say("upper bound"))
    if site.grid.load is None or site.grid.load.kind != "series":
        said.append(language.say("invented load"))
    return Markup(
        _HOUSE.render(
            head=language.say("house"),
            heads=[language.say("likely"), language.say("cautious")],
            rows=rows,
            said=" ".join(said),
        )
    )
