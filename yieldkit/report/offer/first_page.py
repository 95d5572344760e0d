"""The first page that a customer gets: the two years, on what they rest, months, signatures."""

from __future__ import annotations

from yieldkit.config.models.offer import Offer, Party
from yieldkit.config.site.site import Site
from yieldkit.report.markup import Html, template
from yieldkit.report.offer.house import house_block
from yieldkit.report.offer.logo import logo_source
from yieldkit.report.offer.months import months_block
from yieldkit.report.offer.rests_on import Row, rests_on
from yieldkit.report.words.language import Language, language_of
from yieldkit.study.estimate.result import Estimate

_PAGE = template(
    '<article class="sheet" lang="{{ lang }}">'
    '{% if company or logo %}<header class="letterhead"><div>'
    "{% if company %}<p><strong>{{ company.name }}</strong></p>"
    "<p>{% for line in company.lines %}<span>{{ line }}</span> {% endfor %}</p>{% endif %}</div>"
    '{% if logo %}<img src="{{ logo }}" alt="{{ company.name if company else offer }}">{% endif %}'
    "</header>{% endif %}"
    "<h1>{{ title }}</h1>"
    '<dl class="facts">{% for what, lines in facts %}'
    '<div{% if lines[1:] %} class="long"{% endif %}><dt>{{ what }}</dt>'
    "{% for line in lines %}<dd>{{ line }}</dd>{% endfor %}</div>{% endfor %}</dl>"
    '<section class="block years"><h2>{{ years }}</h2><div class="pair">'
    "{% for each in figures %}<div><p>{{ each.what }}</p>"
    '<p class="value"><strong>{{ each.energy }}</strong> {{ each.per_kwp }}</p>'
    "<p>{{ each.means }}</p></div>"
    "{% endfor %}</div>"
    '<p class="small">{{ explained }}</p></section>'
    '<section class="block rests"><h2>{{ rests_head }}</h2><dl>'
    "{% for what, said in rests %}<dt>{{ what }}</dt><dd>{{ said }}</dd>{% endfor %}</dl></section>"
    "{{ months }}{{ house }}"
    '<div class="signatures" role="group" aria-label="{{ signature }}">'
    "{% for who in signed %}<p>{{ who }}</p>{% endfor %}</div></article>",
    unbroken=True,
)


def offer_first_page(estimate: Estimate, site: Site) -> Html:
    """Return the first page for a customer, in the language that the site's offer names.

    Parameters
    ----------
    estimate : Estimate
        What `estimate` returned.
    site : Site
        The site that it is of; without an offer the page is English and names nobody.
    """
    offer = site.offer or Offer()
    language = language_of(offer)
    say = language.say
    return Html(
        _PAGE.render(
            lang=language.code,
            company=offer.company,
            logo=logo_source(site),
            offer=say("offer"),
            title=say("title"),
            facts=_facts(estimate, offer, language),
            years=say("years"),
            figures=_figures(estimate, language),
            explained=say(
                "years explained", draws=language.number(int(estimate.data.attrs["draws"]))
            ),
            rests_head=say("rests on"),
            rests=_rests(estimate, site, language),
            months=months_block(estimate, language),
            house=house_block(estimate, site, language),
            signature=say("signature"),
            signed=[say(f"signed {who}") for who in ("customer", "company", "place")],
        )
    )


def _facts(
    estimate: Estimate, offer: Offer, language: Language
) -> list[tuple[str, tuple[str, ...]]]:
    """Return whom the offer is for, what it is called, and its days; what isn't stated is not."""
    say = language.say
    facts = [
        ("customer", _party(offer.customer)),
        ("place", (str(estimate.data.attrs["site"]),)),
        ("offer number", () if offer.number is None else (offer.number,)),
        ("date", () if offer.date is None else (language.day(offer.date),)),
        ("valid until", () if offer.valid_until is None else (language.day(offer.valid_until),)),
    ]
    return [(say(what), lines) for what, lines in facts if lines]


def _party(party: Party | None) -> tuple[str, ...]:
    return () if party is None else (party.name, *party.lines)


def _figures(estimate: Estimate, language: Language) -> list[dict[str, str]]:
    """Return the likely and the cautious year, in this order."""
    kwp = float(estimate.data.attrs["kwp"])
    energies = {"likely": estimate.likely_kwh, "cautious": estimate.cautious_kwh}
    return [
        {
            "what": language.say(f"{which} year"),
            "energy": language.kwh(energy),
            "means": language.say(f"{which} means"),
            "per_kwp": language.say("per kwp", energy=language.kwh(energy / kwp)),
        }
        for which, energy in energies.items()
    ]


def _rests(estimate: Estimate, site: Site, language: Language) -> tuple[Row, ...]:
    """Return on what the figures rest, and that an invented site is one."""
    rows = rests_on(estimate, site, language)
    if not estimate.data.attrs["invented"]:
        return rows
    return (*rows, (language.say("place"), language.say("invented")))
