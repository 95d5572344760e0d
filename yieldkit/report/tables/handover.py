"""The handover sheet as HTML: order of tests, terminal plan, cards with blanks, papers."""

from __future__ import annotations

import json
from itertools import count

from markupsafe import Markup

from yieldkit.report.markup import Html, template
from yieldkit.report.tables.blanks import blanks, grid, pair, part, subheading, ticks
from yieldkit.report.tables.html import sentences, table
from yieldkit.study.handover.points import USUAL_C, Operating
from yieldkit.study.handover.reading import INPUT, INSTRUMENTS, QUANTITIES
from yieldkit.study.handover.sheet import Handover, SheetInverter

_HEADING = template("<h1>Handover: {{ name }}</h1>")
_ABOUT = template(
    '<div class="verdict"><p class="answer">Wiring: {{ sheet.wiring }}</p><dl>'
    "{% for what, text in rows %}<dt>{{ what }}</dt><dd>{{ text }}</dd>{% endfor %}</dl></div>"
)
_TITLE = template("<h2>{{ text }}</h2>")
_TEXT = template("<p>{{ text }}</p>")
_LIE = (
    "None of this touches a live part, and it parts what a meter can't: planes that lie otherwise "
    "than drawn, dirt, a light sensor or a clock that is off. Azimuth from true north through "
    "east (south is 180): metal near a compass turns it, and it shows magnetic north; the line of "
    "the eave on a map tells it too. Two light sensors are held side by side in the plane, at the "
    "same minute. Go onto a roof only if secured against falling."
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
            f"{many} inverter{'' if many == 1 else 's'}. {sheet.idle_words}".strip(),
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
    for steps in sheet.order:
        own = [f"{next(numbers)}" for _ in steps.steps]
        parts.append(subheading(steps.heading) + ticks(steps.steps, own))
    return Html("".join(parts))


def instrument_blanks(sheet: Handover) -> Html:
    """Return blanks for who tests, when, and with which instruments.

    Parameters
    ----------
    sheet : Handover
        What `handover` returned.
    """
    people = [("Tested by", ""), ("Date", ""), ("Sky, wind", ""), (f"Clock, {sheet.clock}", "")]
    parts = [part("Who and when", people)]
    for name, unit in INSTRUMENTS.values():
        rows = [("Make and type", ""), ("Serial number", ""), ("Calibrated on", "")]
        parts.append(part(f"{name.capitalize()}", [*rows, ("Stated error", unit)]))
    return Html(pair(parts))


def plane_blanks(sheet: Handover) -> Html:
    """Return blanks for what is read without a meter: each plane's lie, its light, the clock.

    Parameters
    ----------
    sheet : Handover
        What `handover` returned.
    """
    parts = [part("The sheet's clock", [("Ahead of a clock that is right", "min")])]
    for each in sheet.planes:
        rows = [
            (f"Tilt, drawn {each.tilt_deg:g}", "°"),
            (f"Azimuth, drawn {each.azimuth_deg:g}", "°"),
            ("Light, first sensor", "W/m²"),
            ("Light, second sensor", "W/m²"),
        ]
        parts.append(part(f"Plane {each.name}", rows))
    return Html(Markup(_TEXT.render(text=_LIE)) + pair(parts))


def inverter_title(sheet: Handover, inverter: SheetInverter) -> Html:
    """Return the heading of an inverter's part of the sheet.

    Parameters
    ----------
    sheet : Handover
        What `handover` returned.
    inverter : SheetInverter
        One of its inverters.
    """
    alone = len(sheet.inverters) == 1 and not sheet.idle
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
        subheading("Switched off, and kept so"),
        ticks(inverter.isolation),
        subheading("What it is told at the first start"),
        ticks(f"{each.what}: {each.value}" for each in inverter.set_up),
        subheading("First readings of its display, in steady light"),
        pair([part(name, rows) + _operating(own) for name, own in inverter.operating]),
        subheading("Its place"),
        ticks(inverter.place),
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
    return grid(caption, ("W/m²", "V", "A", "W"), rows)


def documents_list(sheet: Handover) -> Html:
    """Return the papers that the owner gets, each with a box to tick, and lines to sign.

    Parameters
    ----------
    sheet : Handover
        What `handover` returned.
    """
    signed = [("Handed over by", ""), ("Date", ""), ("Taken over by", ""), ("Date", "")]
    papers = ticks(sheet.documents)
    return Html(papers + pair([blanks(signed[:2]), blanks(signed[2:])]))


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
