"""The strings of a handover sheet as HTML: a card with blanks for each, and a cloudless day."""

from __future__ import annotations

from markupsafe import Markup

from yieldkit.design.checks.insulation import VOLTAGE
from yieldkit.report.markup import Html, template
from yieldkit.report.tables.blanks import blanks, bullets, grid, pair, subheading
from yieldkit.study.handover.points import USUAL_C
from yieldkit.study.handover.sheet import Handover, SheetInverter, SheetString

_CARD = template(
    '<section class="card"><h3>{{ title }}</h3><div><dl>'
    "{% for what, text in facts %}<dt>{{ what }}</dt><dd>{{ text }}</dd>{% endfor %}</dl>"
    "{{ expected }}</div><div>{{ blanks }}"
    '{% if warning %}<p class="warn">{{ warning }}</p>{% endif %}</div></section>'
)
_POLARITY = template(
    '<ul class="blanks"><li><span class="what">Polarity</span>'
    '<span><span class="tick"></span>right</span>'
    '<span><span class="tick"></span>REVERSED: stop</span></li></ul>'
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
        blanks=Markup(_POLARITY.render()) + blanks(rows),
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
    return grid(caption, head, rows)


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
    parts = [_hours(each) for each in sheet.of(inverter)]
    title = subheading(
        f"Without a light sensor: a cloudless sky on {sheet.day}, air at {sheet.temp_air:g} °C"
    )
    said = bullets(
        [
            "Only where no cloud stands near the sun and no shadow lies on the string. From and to "
            "are where 19 of 20 readings lie: a guessed sky leaves more room than a sensor.",
            sheet.clock_words,
        ]
    )
    return Html(title + said + pair(parts))


def _hours(one: SheetString) -> Markup:
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
    return grid(caption, head, rows)
