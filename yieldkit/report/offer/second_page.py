"""The second page that a customer gets: what moves the figure, and what is not promised."""

from __future__ import annotations

from yieldkit.config.models.offer import Offer
from yieldkit.config.site.site import Site
from yieldkit.report.markup import Html, template
from yieldkit.report.offer.money import money_block
from yieldkit.report.words.language import Language, language_of
from yieldkit.study.estimate.result import Estimate

_TOLD = 5
_LEAST_SHARE = 0.01
"""Unknowns told to a customer: so many at most, none with a smaller share of the variance [1]."""

_PAGE = template(
    '<article class="sheet" lang="{{ lang }}">'
    '<div class="twin"><section class="block over"><h2>{{ over_head }}</h2>'
    '<table><thead><tr><th scope="col">{{ period }}</th>'
    "{% for head in heads %}"
    '<th scope="col" class="number">{{ head }}</th>{% endfor %}</tr></thead><tbody>'
    '{% for name, likely, cautious in over %}<tr><th scope="row">{{ name }}</th>'
    '<td class="number">{{ likely }}</td><td class="number">{{ cautious }}</td></tr>{% endfor %}'
    '</tbody></table><p class="small">{{ over_said }}</p></section>'
    '<section class="block moves"><h2>{{ moves_head }}</h2><p class="small">{{ moves_said }}</p>'
    '<table><thead><tr><th scope="col">{{ unknown }}</th><td class="bars"></td>'
    '<th scope="col" class="number">{{ share }}</th></tr></thead><tbody>'
    '{% for name, at, percent in moves %}<tr><th scope="row">{{ name }}</th><td class="bars">'
    '<svg class="bar" viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">'
    '<rect class="bar-share" x="0" y="1.5" height="7" width="{{ at }}"/></svg></td>'
    '<td class="number">{{ percent }}</td></tr>{% endfor %}</tbody></table></section></div>'
    "{{ money }}"
    '{% for head, texts in lists %}<section class="list"><h2>{{ head }}</h2><ul>'
    "{% for text in texts %}<li>{{ text }}</li>{% endfor %}</ul></section>{% endfor %}"
    '<p class="small">{{ annex }}</p></article>',
    unbroken=True,
)


def offer_second_page(estimate: Estimate, site: Site) -> Html:
    """Return the second page for a customer, in the language that the site's offer names.

    Parameters
    ----------
    estimate : Estimate
        What `estimate` returned.
    site : Site
        The site that it is of; without an offer the page is English and tells no money.
    """
    language = language_of(site.offer or Offer())
    say = language.say
    return Html(
        _PAGE.render(
            lang=language.code,
            over_head=say("over years"),
            period=f"{say('period')}, kWh",
            heads=[say(which) for which in ("likely", "cautious")],
            over=_over_years(estimate, language),
            over_said=say("over years said"),
            moves_head=say("moves"),
            moves_said=say("moves said"),
            unknown=say("unknown"),
            share=say("share"),
            moves=_moves(estimate, language),
            money=money_block(estimate, site, language),
            lists=[
                (say("not promised"), _not_promised(estimate, language)),
                (say("cautions"), [say(f"caution {each}") for each in _CAUTIONS]),
            ],
            annex=say("annex"),
        )
    )


_CAUTIONS = ("live", "skilled", "damage", "aid")


def _over_years(estimate: Estimate, language: Language) -> list[tuple[str, str, str]]:
    """Return the first year and means of several years, likely and cautious."""
    found = []
    for years, (_, row) in zip(
        estimate.data["mean_years"].to_numpy(), estimate.bands.iterrows(), strict=True
    ):
        name = (
            language.say("first year")
            if years == 1
            else language.say("mean of years", years=language.number(int(years)))
        )
        found.append((name, language.number(row["P50"]), language.number(row["P90"])))
    return found


def _moves(estimate: Estimate, language: Language) -> list[tuple[str, str, str]]:
    """Return the largest unknowns: name, length of the bar, share of the variance."""
    table = estimate.contributions.head(_TOLD)
    shares = table["total_order"][table["total_order"] >= _LEAST_SHARE]
    most = max(shares, default=1.0)
    return [
        (
            language.say(f"cause {name}"),
            f"{100.0 * share / most:.2f}",
            language.percent(100.0 * share),
        )
        for name, share in shares.items()
    ]


def _not_promised(estimate: Estimate, language: Language) -> list[str]:
    """Return what the figures don't promise."""
    attrs = estimate.data.attrs
    keys = ["not promised year", "not promised light", "not promised plan"]
    if estimate.house is not None:
        keys.append("not promised use")
    if estimate.money is not None:
        keys.append("not promised prices")
    if attrs["not_checked"]:
        keys.append("not checked")
    if attrs["weather_remarks"] or attrs["weather_cautions"]:
        keys.append("weather remarks")
    return [language.say(key) for key in keys]
