"""The handover sheet as HTML: order of tests, terminal plan, cards with blanks, papers."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from itertools import count

from markupsafe import Markup

from yieldkit.design.checks.insulation import VOLTAGE
from yieldkit.report.markup import Html, template
from yieldkit.report.tables.html import sentences, table
from yieldkit.study.handover.points import USUAL_C, Operating
from yieldkit.study.handover.reading import INPUT, INSTRUMENTS, QUANTITIES
from yieldkit.study.handover.sheet import Handover, SheetInverter, SheetString

_HEADING = template("<h1>Handover: {{ name }}</h1>")
_ABOUT = template(
    '<div class="verdict"><p class="answer">Wiring: {{ sheet.wiring }}</p><dl>'
    "{% for what, text in rows %}<dt>{{ what }}</dt><dd>{{ text }}</dd>{% endfor %}</dl></div>"
)
_SUBHEADING = template("<h3>{{ text }}</h3>")
_TITLE = template("<h2>{{ text }}</h2>")
_TICKS = template(
    '<ul class="ticks">{% for number, text in rows %}<li><span class="tick"></span>'
    '{% if number %}<span class="number">{{ number }}</span>{% endif %}'
    "<span>{{ text }}</span></li>{% endfor %}</ul>"
)
_BLANKS = template(
    '<ul class="blanks">{% for what, unit in rows %}<li><span class="what">{{ what }}</span>'
    '<span class="line"></span><span class="unit">{{ unit }}</span></li>{% endfor %}</ul>'
)
_LIST = template("<ul>{% for text in texts %}<li>{{ text }}</li>{% endfor %}</ul>")
_PAIR = template('<div class="pair">{% for part in parts %}<div>{{ part }}</div>{% endfor %}</div>')
_CARD = template(
    '<section class="card"><h3>{{ title }}</h3><div><dl>'
    "{% for what, text in facts %}<dt>{{ what }}</dt><dd>{{ text }}</dd>{% endfor %}</dl>"
    "{{ expected }}</div><div>{{ blanks }}"
    '{% if warning %}<p class="warn">{{ warning }}</p>{% endif %}</div></section>'
)
_EXPECTED = template(
    '<table class="grid"><caption>{{ caption }}</caption><thead><tr>'
    '{% for text in head %}<th scope="col">{{ text }}</th>{% endfor %}</tr></thead><tbody>'
    "{% for row in rows %}<tr>{% for text in row %}{% if loop.first %}"
    '<th scope="row">{{ text }}</th>{% else %}<td>{{ text }}</td>{% endif %}{% endfor %}</tr>'
    "{% endfor %}</tbody></table>"
)
_POLARITY = template(
    '<ul class="blanks"><li><span class="what">Polarity</span>'
    '<span><span class="tick"></span>right</span>'
    '<span><span class="tick"></span>REVERSED: stop</span></li></ul>'
)
_OPERATING = tuple(each for each in QUANTITIES if each.of == INPUT)


def handover_heading(sheet: Handover) -> Html:
    """Return the page's one main heading.

    Parameters
    ----------
    sheet : Handover
        What `handover` returned.
    """
    return Html(_HEADING.render(name=sheet.site_name))


def handover_box(sheet: Handover) -> Html:
    """Return what must be known of the sheet as a whole: wiring, mark, clock, what is open.

    Parameters
    ----------
    sheet : Handover
        What `handover` returned.
    """
    rows = [
        ("Sheet", f"{sheet.mark}, made {sheet.made}. The table of readings bears this mark."),
        ("May it be built?", f"{sheet.allowed}."),
    ]
    if sheet.not_checked:
        rows.append(("What is NOT CHECKED?", f"{sheet.not_checked}."))
    many = len(sheet.inverters)
    rows += [
        (
            "How large?",
            f"{sheet.power_kwp:.2f} kWp in {len(sheet.strings)} strings on "
            f"{many} inverter{'' if many == 1 else 's'}.",
        ),
        ("Which clock?", sheet.clock_words),
    ]
    if sheet.invented:
        rows.append(("Whose building?", "Building and equipment are invented."))
    return Html(_ABOUT.render(sheet=sheet, rows=rows))


def order_of_tests(sheet: Handover) -> Html:
    """Return the steps, numbered through, each with a box to tick.

    Parameters
    ----------
    sheet : Handover
        What `handover` returned.
    """
    numbers, parts = count(1), []
    for part in sheet.order:
        rows = [(f"{next(numbers)}", step) for step in part.steps]
        parts.append(_SUBHEADING.render(text=part.heading) + _TICKS.render(rows=rows))
    return Html("".join(parts))


def instrument_blanks(sheet: Handover) -> Html:
    """Return blanks for who tests, when, and with which instruments.

    Parameters
    ----------
    sheet : Handover
        What `handover` returned.
    """
    people = [("Tested by", ""), ("Date", ""), ("Sky, wind", ""), (f"Clock, {sheet.clock}", "")]
    parts = [_part("Who and when", people)]
    for name, unit in INSTRUMENTS.values():
        rows = [("Make and type", ""), ("Serial number", ""), ("Calibrated on", "")]
        parts.append(_part(f"{name.capitalize()}", [*rows, ("Stated error", unit)]))
    return Html(_PAIR.render(parts=parts))


def _part(title: str, rows: Sequence[tuple[str, str]]) -> Markup:
    return Markup(_SUBHEADING.render(text=title) + _BLANKS.render(rows=rows))


def inverter_title(sheet: Handover, inverter: SheetInverter) -> Html:
    """Return the heading of an inverter's part of the sheet.

    Parameters
    ----------
    sheet : Handover
        What `handover` returned.
    inverter : SheetInverter
        One of its inverters.
    """
    alone = len(sheet.inverters) == 1
    return Html(_TITLE.render(text="The inverter" if alone else f"Inverter {inverter.name}"))


def terminal_plan(sheet: Handover, inverter: SheetInverter) -> Html:
    """Return which string goes to which input of an inverter.

    Parameters
    ----------
    sheet : Handover
        What `handover` returned.
    inverter : SheetInverter
        One of its inverters.
    """
    strings = {each.number: each for each in sheet.of(inverter)}
    rows: list[tuple[str, ...]] = []
    for name, numbers in inverter.inputs:
        if not numbers:
            rows.append((name, "no string", "closed with its caps", "", "", ""))
        for number in numbers:
            one = strings[number]
            ends = (f"string {number} plus to +", f"string {number} minus to -")
            rows.append((name, f"{number}", one.connector, one.modules, *ends))
    return table(
        ("input", "string", "connectors", "modules", "plus", "minus"),
        rows,
        f"Terminal plan: {inverter.kind}, {inverter.power_kwp:.2f} kWp. Nothing is plugged in "
        "before the polarity of every string is right.",
    )


def string_cards(sheet: Handover, inverter: SheetInverter) -> Html:
    """Return a card for each string of an inverter: its plan, what it should show, its blanks.

    Parameters
    ----------
    sheet : Handover
        What `handover` returned.
    inverter : SheetInverter
        One of its inverters.
    """
    return Html("".join(_card(each, sheet.clock) for each in sheet.of(inverter)))


def _card(one: SheetString, clock: str) -> str:
    test = one.insulation
    facts = [
        ("Modules", f"{one.modules}; {', '.join(one.module_types)}"),
        ("Lie on", "; ".join(one.planes)),
        ("Goes to", f"{one.input_name}, {one.connector}"),
        ("Ends", "plus to +, minus to -"),
        ("Cable", one.cable),
        ("Fuse", one.fuse),
        (
            "At most",
            "not known" if one.cold_v_oc is None else f"{one.cold_v_oc:.0f} V, in the cold",
        ),
    ]
    rows = [
        ("Open-circuit voltage", "V"),
        ("Short-circuit current", "A"),
        ("Light in the plane", "W/m²"),
        ("Modules' temperature", "°C"),
        (f"Time, {clock}", ""),
    ]
    if test.test_voltage_v is not None:
        volts = f"Insulation at {test.test_voltage_v:g} V"
        rows += [(f"{volts}, plus to earth", "MΩ"), ("minus to earth", "MΩ")]
    rows.append(("Tested by", ""))
    return _CARD.render(
        title=f"{one.number}: {one.name}",
        facts=facts,
        expected=_expected(one),
        blanks=Markup(_POLARITY.render() + _BLANKS.render(rows=rows)),
        warning=_warning(one),
    )


def _warning(one: SheetString) -> str:
    """Return what has to be known of a string's insulation test beside its voltage."""
    test = one.insulation
    if test.test_voltage_v is None:
        return f"NO INSULATION TEST: {test.remark}"
    if test.remark:
        return f"{VOLTAGE.capitalize()}: {test.verdict}. {test.remark}"
    return f"Plus and minus together at least {test.least_megohm:g} MΩ."


def _expected(one: SheetString) -> Markup:
    points = one.points
    both = bool(points.i_sc)
    head = ["W/m²", *(f"{each:g} °C" for each in points.temperatures), *(["Isc"] if both else [])]
    rows = [
        [
            f"{light:g}",
            *(f"{volts:.0f}" for volts in points.v_oc[at]),
            *([f"{points.i_sc[at]:.2f}"] if both else []),
        ]
        for at, light in enumerate(points.lights)
    ]
    amperes = (
        f"; Isc in A at {USUAL_C:g} °C"
        if both
        else "; its planes never have the same light: no Isc"
    )
    band = f"± {points.v_band_percent:.0f} %"
    currents = f", {points.i_band_percent:.0f} % of Isc" if both else ""
    caption = (
        f"Expected Voc in V by light and the modules' temperature{amperes}. Usual: {band}"
        f"{currents}."
    )
    return Markup(_EXPECTED.render(caption=caption, head=head, rows=rows))


def cloudless_hours(sheet: Handover, inverter: SheetInverter) -> Html | None:
    """Return what an inverter's strings should show hour by hour below a cloudless sky.

    Parameters
    ----------
    sheet : Handover
        What `handover` returned.
    inverter : SheetInverter
        One of its inverters.

    Returns
    -------
    Html or None
        None where no day was asked for.
    """
    if not sheet.day:
        return None
    parts = [Markup(_hours(each)) for each in sheet.of(inverter)]
    title = _SUBHEADING.render(
        text=f"Without a light sensor: a cloudless sky on {sheet.day}, air at {sheet.temp_air:g} °C"
    )
    said = _LIST.render(
        texts=[
            "Only where no cloud stands near the sun and no shadow lies on the string. From and to "
            "are where 19 of 20 readings lie: a guessed sky leaves more room than a sensor.",
            sheet.clock_words,
        ]
    )
    return Html(f"{title}{said}{_PAIR.render(parts=parts)}")


def _hours(one: SheetString) -> str:
    head = ("time", "W/m²", "V from", "to", "A from", "to")
    rows = [
        (
            each.clock,
            f"{each.poa_global:.0f}",
            f"{each.v_oc_low:.0f}",
            f"{each.v_oc_high:.0f}",
            f"{each.i_sc_low:.1f}",
            f"{each.i_sc_high:.1f}",
        )
        for each in one.cloudless
    ]
    caption = f"{one.number}: {one.name}: Voc and Isc"
    if not rows:
        caption = f"{caption}: never as much as 200 W/m² on that day"
    return _EXPECTED.render(caption=caption, head=head, rows=rows)


def first_start(sheet: Handover, inverter: SheetInverter) -> Html:
    """Return how an inverter is kept off, what it is told, and blanks for its first readings.

    Parameters
    ----------
    sheet : Handover
        What `handover` returned.
    inverter : SheetInverter
        One of its inverters.
    """
    rows = [(each.words.capitalize(), each.unit) for each in _OPERATING]
    rows += [
        ("Light in the plane", "W/m²"),
        ("Modules' temperature", "°C"),
        (f"Time, {sheet.clock}", ""),
    ]
    parts = [
        _SUBHEADING.render(text="Switched off, and kept so"),
        _TICKS.render(rows=[("", each) for each in inverter.isolation]),
        _SUBHEADING.render(text="What it is told at the first start"),
        _TICKS.render(rows=[("", f"{each.what}: {each.value}") for each in inverter.set_up]),
        _SUBHEADING.render(text="First readings of its display, in steady light"),
        _PAIR.render(
            parts=[
                Markup(f"{_part(name, rows)}{_operating(own)}") for name, own in inverter.operating
            ]
        ),
        _SUBHEADING.render(text="Its place"),
        _TICKS.render(rows=[("", each) for each in inverter.place]),
    ]
    return Html("".join(parts))


def _operating(own: Operating) -> Markup:
    """Return what an input should show; nothing for one whose planes differ in light."""
    if not own.lights:
        return Markup("")
    caption = (
        f"Expected with the modules at {USUAL_C:g} °C and nothing that holds the inverter "
        f"back. Usual: ± {own.p_band_percent:.0f} % of the power."
    )
    shown = zip(own.lights, own.v_dc, own.i_dc, own.p_dc, strict=True)
    rows = [(f"{g:g}", f"{v:.0f}", f"{i:.1f}", f"{p:,.0f}") for g, v, i, p in shown]
    return Markup(_EXPECTED.render(caption=caption, head=("W/m²", "V", "A", "W"), rows=rows))


def documents_list(sheet: Handover) -> Html:
    """Return the papers that the owner gets, each with a box to tick, and lines to sign.

    Parameters
    ----------
    sheet : Handover
        What `handover` returned.
    """
    signed = [("Handed over by", ""), ("Date", ""), ("Taken over by", ""), ("Date", "")]
    papers = _TICKS.render(rows=[("", each) for each in sheet.documents])
    return Html(papers + _PAIR.render(parts=[_blanks(signed[:2]), _blanks(signed[2:])]))


def _blanks(rows: Iterable[tuple[str, str]]) -> Markup:
    return Markup(_BLANKS.render(rows=list(rows)))


def rests_on(sheet: Handover) -> Html:
    """Return on what the sheet's figures rest.

    Parameters
    ----------
    sheet : Handover
        What `handover` returned.
    """
    rules = dict.fromkeys(each.insulation.rule for each in sheet.strings)
    numbers = json.loads(sheet.versions)
    made = ", ".join(f"{name} {number}" for name, number in numbers.items())
    return sentences(
        [
            "Expected figures are those of the datasheets, carried to light and temperature by "
            "the diode fitted to them: new modules, no dirt, no shadow, light as at noon of the "
            "longest day, light from behind as the site file states it. They are no limits.",
            sheet.usual,
            *(f"Insulation: {rule}. System voltage is 1.25 times Voc at 25 °C." for rule in rules),
            f"Site file, SHA-256 of its content: {sheet.site_sha256}.",
            f"Versions: {made}.",
        ]
    )
