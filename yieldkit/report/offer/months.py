"""The first year month by month as one table: figures, and bars between them."""

from __future__ import annotations

from markupsafe import Markup

from yieldkit.report.markup import template
from yieldkit.report.words.language import Language
from yieldkit.study.estimate.result import Estimate

_MONTHS = template(
    '<section class="block months"><h2>{{ head }}</h2>'
    "<table><thead><tr>"
    '<th scope="col">{{ month }}</th><td class="bars"></td>'
    '<th scope="col" class="number">{{ likely }}</th>'
    '<th scope="col" class="number">{{ cautious }}</th>'
    '<th scope="col" class="number alone">{{ alone }}</th></tr></thead><tbody>'
    "{% for row in rows %}"
    '<tr><th scope="row">{{ row.name }}</th>'
    '<td class="bars"><svg class="bar" viewBox="0 0 100 10" preserveAspectRatio="none" '
    'aria-hidden="true"><rect class="bar-likely" x="0" y="1.5" height="7" '
    'width="{{ row.likely_at }}"/>'
    '<line class="bar-alone" x1="{{ row.low_at }}" x2="{{ row.high_at }}" y1="5" y2="5"/>'
    '<line class="bar-cautious" x1="{{ row.cautious_at }}" x2="{{ row.cautious_at }}" y1="0.5" '
    'y2="9.5"/></svg></td>'
    '<td class="number">{{ row.likely }}</td><td class="number">{{ row.cautious }}</td>'
    '<td class="number alone">{{ row.alone }}</td></tr>'
    "{% endfor %}</tbody><tfoot><tr>"
    '<th scope="row">{{ year }}</th><td class="bars"></td>'
    '<td class="number">{{ whole_likely }}</td><td class="number">{{ whole_cautious }}</td>'
    '<td class="alone"></td></tr></tfoot></table><p class="small">{{ key }}</p></section>',
    unbroken=True,
)


def months_block(estimate: Estimate, language: Language) -> Markup:
    """Return the months of the first year: likely, cautious, and each month alone.

    Parameters
    ----------
    estimate : Estimate
        What `estimate` returned.
    language : Language
        The customer's.
    """
    months = estimate.months
    most = float(months[["likely", "cautious", "high"]].to_numpy().max()) or 1.0

    def at(value: float) -> str:
        return f"{100.0 * max(float(value), 0.0) / most:.2f}"

    def energy(value: float) -> str:
        return language.number(float(value))

    rows = [
        {
            "name": language.month(number),
            "likely": energy(row["likely"]),
            "cautious": energy(row["cautious"]),
            "alone": language.say("from to", low=energy(row["low"]), high=energy(row["high"])),
            **{f"{key}_at": at(row[key]) for key in ("likely", "cautious", "low", "high")},
        }
        for number, (_, row) in enumerate(months.iterrows(), start=1)
    ]
    return Markup(
        _MONTHS.render(
            head=language.say("months"),
            month=language.say("month"),
            likely=f"{language.say('likely')}, kWh",
            cautious=f"{language.say('cautious')}, kWh",
            alone=f"{language.say('alone')}, kWh",
            rows=rows,
            year=language.say("whole year"),
            whole_likely=energy(months["likely"].sum()),
            whole_cautious=energy(months["cautious"].sum()),
            key=language.say("months key"),
        )
    )
