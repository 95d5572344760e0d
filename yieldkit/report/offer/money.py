"""What a plant is worth, for the customer: never without the prices that it rests on."""

from __future__ import annotations

import math

from markupsafe import Markup

from yieldkit.config.site.site import Site
from yieldkit.report.markup import template
from yieldkit.report.offer.prices import price_rows
from yieldkit.report.words.language import Language
from yieldkit.study.estimate.money_result import INTERNAL_RATE, LEVELISED_COST, Money
from yieldkit.study.estimate.result import Estimate

_NO_MONEY = template(
    '<section class="block money"><h2>{{ head }}</h2><p>{{ said }}</p></section>', unbroken=True
)
_MONEY = template(
    '<section class="block money"><h2>{{ head }}</h2><table><thead><tr><td></td>'
    '{% for each in heads %}<th scope="col" class="number">{{ each }}</th>{% endfor %}'
    "</tr></thead><tbody>{% for name, likely, cautious in rows %}"
    '<tr><th scope="row">{{ name }}</th><td class="number">{{ likely }}</td>'
    '<td class="number">{{ cautious }}</td></tr>{% endfor %}</tbody></table>'
    '<p class="small">{{ said }}</p><div class="rests"><h3>{{ prices_head }}</h3><dl>'
    "{% for what, text in prices %}<dt>{{ what }}</dt><dd>{{ text }}</dd>{% endfor %}"
    "</dl></div></section>",
    unbroken=True,
)


def money_block(estimate: Estimate, site: Site, language: Language) -> Markup:
    """Return what a plant is worth with its prices; without prices that nothing is said of it.

    Parameters
    ----------
    estimate : Estimate
        What `estimate` returned.
    site : Site
        The site that it is of.
    language : Language
        The customer's.
    """
    money, say = estimate.money, language.say
    if money is None:
        return Markup(_NO_MONEY.render(head=say("money"), said=say("no money")))
    figures = money.figures
    columns = [figures[which].astype(float).to_dict() for which in _COLUMNS]
    rows = [
        (
            say(str(name)),
            *(_figure(money, str(name), column[name], str(unit), language) for column in columns),
        )
        for name, unit in figures["unit"].items()
    ]
    return Markup(
        _MONEY.render(
            head=say("money"),
            heads=[say(which) for which in _COLUMNS],
            rows=rows,
            said=" ".join(_said(estimate, money, language)),
            prices_head=say("prices"),
            prices=price_rows(site, language, estimate.house is not None),
        )
    )


_COLUMNS = ("likely", "cautious")


def _figure(money: Money, name: str, value: float, unit: str, language: Language) -> str:
    """Return a figure as it is written, or in words why there is none."""
    if name == INTERNAL_RATE:
        return _rate(money, value, language)
    if name == LEVELISED_COST:
        finite = math.isfinite(value)
        return language.amount(value, money.currency, 3) if finite else language.say("no energy")
    if unit == money.currency:
        return language.amount(value, unit)
    if not math.isfinite(value):
        return language.say("not within", years=language.number(money.years))
    return language.say("years value", value=language.number(value, 1))


def _rate(money: Money, value: float, language: Language) -> str:
    if money.several_rates:
        return language.say("several rates")
    if math.isfinite(value):
        return language.percent(value, 1)
    return language.say("gain at any rate" if value > 0.0 else "loss at any rate")


def _said(estimate: Estimate, money: Money, language: Language) -> list[str]:
    """Return what is to be known of the figures."""
    attrs, found = estimate.data.attrs, [language.say("money said")]
    if estimate.house is None:
        found.append(language.say("no own use"))
    if float(attrs["inflation_percent"]):
        found.append(language.say("real money"))
    saves = money.curtailing
    if saves is not None:
        first = saves.loc["first year"].astype(float).to_dict()
        told = {which: language.amount(first[which], money.currency) for which in _COLUMNS}
        found.append(language.say("curtailing", **told))
    if attrs["self_use_upper_bound"]:
        found.append(language.say("bound money"))
    return found
