"""The customer's pages in German."""

from __future__ import annotations

WORDS: dict[str, str] = {
    # What the page is called, and whom it is for.
    "title": "Was Ihre Solaranlage erzeugt",
    "offer": "Angebot",
    "offer number": "Angebotsnummer",
    "customer": "Kunde",
    "date": "Datum",
    "valid until": "Gültig bis",
    "place": "Anlage",
    # The year.
    "years": "Energie im ersten Jahr",
    "likely": "wahrscheinlich",
    "cautious": "vorsichtig",
    "likely year": "Wahrscheinliches Jahr",
    "cautious year": "Vorsichtig gerechnetes Jahr",
    "likely means": "Die Hälfte aller Fälle bringt mehr.",
    "cautious means": "Neun von zehn Fällen bringen mehr.",
    "per kwp": "{energy} je kWp",
    "years explained": (
        "Beide Werte stammen aus {draws} durchgerechneten Fällen. Von Fall zu Fall unterscheiden "
        "sich das Wetter des Jahres und alles andere, was vor dem Bau niemand genau weiß."
    ),
    # On what it rests.
    "rests on": "Worauf diese Zahlen beruhen",
    "rated power": "Nennleistung",
    "rated power said": "{kwp} aus {modules} Modulen",
    "not wired": "{kwp} aus {modules} Modulen, davon {wired} angeschlossen",
    "kwp": "kWp",
    "inverter": "Wechselrichter",
    "weather": "Wetter",
    "years of weather": "{title} ({years} Jahre)",
    "between years": "Jahr zu Jahr",
    "measured years": (
        "Die vorliegenden Jahre unterscheiden sich um {percent} an Sonnenlicht "
        "(Standardabweichung)."
    ),
    "stated": (
        "Angenommen ist, dass sich Jahre um {percent} an Sonnenlicht unterscheiden "
        "(Standardabweichung)."
    ),
    "blocks of days": (
        "Das Wetter ist das eines einzigen Jahres. Wirkliche Jahre unterscheiden sich stärker als "
        "hier gerechnet: Das vorsichtige Jahr kann niedriger ausfallen als gezeigt."
    ),
    "few years": "So wenige Jahre sagen kaum, wie sehr sich Jahre unterscheiden.",
    "ageing": "Alterung",
    "ageing said": (
        "Die Module verlieren jährlich {percent} ihrer Leistung; gerechnet sind {years} Jahre."
    ),
    "outages": "Ausfälle",
    "no outages": "Keine eingerechnet. Eine Anlage, die stillsteht, bringt weniger.",
    "outages said": "Angenommen ist, dass die Anlage {percent} der Zeit läuft.",
    "outages by month": "Stillstand ist Monat für Monat eingerechnet, im Mittel {percent}.",
    "measured at": "Gezählt",
    "measured at said": "Was die Anlage am Anschlusspunkt des Gebäudes abgibt.",
    "invented": "Gebäude und Geräte dieses Beispiels sind erfunden.",
    # Months.
    "months": "Monat für Monat",
    "month": "Monat",
    "alone": "dieser Monat allein",
    "from to": "{low} bis {high}",
    "whole year": "Jahr",
    "months key": (
        "Balken: das wahrscheinliche Jahr. Dunkle Marke: das vorsichtige Jahr. Dünne Linie und "
        "letzte Spalte: wo dieser Monat allein in acht von zehn Jahren liegt."
    ),
    # The house.
    "house": "Was sie im Gebäude ersetzt",
    "house said": (
        "Wahrscheinlich und vorsichtig sind in jeder Zeile für sich abgelesen; vorsichtige Werte "
        "ergeben keine Summe."
    ),
    "self use": "Im Gebäude verbraucht",
    "export": "Ins Netz eingespeist",
    "import": "Weiterhin bezogen",
    "covered": "Gedeckter Anteil des Verbrauchs",
    "at most": "höchstens {value}",
    "at least": "mindestens {value}",
    "consumption": "Verbrauch: {energy} im Jahr.",
    "upper bound": (
        "Der Eigenverbrauch ist der höchste mögliche, der Bezug der geringste: Verbrauch oder "
        "Erzeugung sind nur in langen Zeitschritten bekannt."
    ),
    "invented load": "Wann verbraucht wird, ist angenommen und nicht gemessen.",
    # Signatures.
    "signature": "Unterschriften",
    "signed customer": "Kunde",
    "signed company": "Firma",
    "signed place": "Ort, Datum",
    # Second page.
    "moves": "Was die Zahl bewegt",
    "moves said": (
        "Was vor dem Bau niemand genau weiß, und wie viel der Streuung des ersten Jahres daher "
        "kommt."
    ),
    "unknown": "Unbekannte Größe",
    "share": "Anteil",
    "over years": "Über die Jahre",
    "mean of years": "Mittel der ersten {years} Jahre",
    "first year": "Erstes Jahr",
    "period": "Zeitraum",
    "over years said": (
        "Über mehrere Jahre gleichen sich gutes und schlechtes Wetter aus; die Module altern. Die "
        "Werte sind Energie je Jahr."
    ),
    "money": "Was sie wert ist",
    "no money": (
        "Dieses Angebot nennt keine Preise. Deshalb enthält es keine Seite über Geld: Über "
        "Ersparnis oder Rendite ist nichts gesagt."
    ),
    "prices": "Preise, auf denen das beruht",
    "money said": (
        "Wahrscheinlich ist die Mitte der durchgerechneten Fälle; neun von zehn Fällen fallen "
        "nicht schlechter aus als vorsichtig. Künftige Preise sind angenommen wie angegeben; "
        "niemand kennt sie."
    ),
    "net present value": "Wert heute über den Preis hinaus (Kapitalwert)",
    "internal rate of return": "Rendite im Jahr (interner Zinsfuß)",
    "levelised cost of energy": "Kosten einer Kilowattstunde über die Lebensdauer",
    "simple payback": "Amortisiert nach",
    "discounted payback": "Amortisiert mit Zinsen nach",
    "years value": "{value}\u00a0Jahren",
    "not within": "nicht innerhalb von {years} Jahren",
    "loss at any rate": "keine: Verlust bei jedem Zinsfuß",
    "gain at any rate": "keine: Gewinn bei jedem Zinsfuß",
    "several rates": "mehrere: keine genannt",
    "no energy": "nicht bestimmt: keine Energie",
    "outlay": "Preis der Anlage",
    "outlay said": "{money}, bezahlt vor dem ersten Jahr",
    "life": "Lebensdauer",
    "life said": "{years} Jahre, Geld jeweils am Jahresende gezählt",
    "purchase": "Bezogener Strom",
    "feed in": "Eingespeister Strom",
    "of period": "{name}: {price}",
    "of period at": "{name} ({when}): {price}",
    "changing": "{price} im ersten Jahr, danach {percent} im Jahr",
    "unchanging": "{price} in jedem Jahr",
    "clock": "Uhrzeit der Preise",
    "running costs": "Laufende Kosten",
    "replacement": "Ersatz",
    "replacement said": (
        "{what} nach Jahr {year}: {money} zu Preisen des ersten Jahres, geändert wie die "
        "laufenden Kosten"
    ),
    "discount": "Kalkulationszins",
    "nominal": "{percent} im Jahr, nominal",
    "real": "{percent} im Jahr, real, bei einer Inflation von {inflation}",
    "tax": "Steuer",
    "no tax": "Keine eingerechnet.",
    "tax on export": (
        "{percent} auf die Einspeisung, nach Abzug der Kosten und des über {years} Jahre "
        "abgeschriebenen Anlagenpreises; ein Verlust wird angerechnet"
    ),
    "tax on all": (
        "{percent} auf Einspeisung und Eigenverbrauch, nach Abzug der Kosten und des über "
        "{years} Jahre abgeschriebenen Anlagenpreises; ein Verlust wird angerechnet"
    ),
    "curtailing": (
        "Zu manchen Stunden kostet das Einspeisen Geld. Wer dann nichts einspeist, spart "
        "{likely} im wahrscheinlichen ersten Jahr und {cautious} im vorsichtigen."
    ),
    "bound money": "Der Eigenverbrauch ist der höchste mögliche, und ebenso, was er spart.",
    "no own use": (
        "Aller Strom ist als eingespeist gerechnet, denn zum Verbrauch des Gebäudes ist nichts "
        "angegeben."
    ),
    "real money": (
        "Rendite und Kosten einer Kilowattstunde sind in Geld des ersten Jahres angegeben."
    ),
    "not promised": "Was nicht versprochen wird",
    "not promised year": (
        "Kein einzelnes Jahr und kein einzelner Monat ist garantiert. Eines von zehn Jahren liegt "
        "unter dem vorsichtigen."
    ),
    "not promised light": (
        "Neue Gebäude, wachsende Bäume, Schmutz, Schnee und Schäden, die nicht eingerechnet sind, "
        "mindern den Ertrag."
    ),
    "not promised plan": (
        "Die Zahlen gelten für die beschriebene Anlage. Andere Module, Wechselrichter oder Stränge "
        "ergeben andere Zahlen."
    ),
    "not promised use": (
        "Wie viel im Gebäude verbraucht wird, hängt davon ab, wie dort gelebt und gearbeitet wird."
    ),
    "not promised prices": (
        "Preise, Tarife, Steuern und Vorschriften können sich ändern; die Zahlen gelten für die "
        "hier genannten Preise."
    ),
    "not checked": (
        "Einige elektrische Grenzwerte sind noch nicht geprüft, weil Angaben fehlen; der Anhang "
        "nennt sie. Vor dem Bau muss eine Fachkraft sie prüfen."
    ),
    "weather remarks": "Zu den Wetterdaten stehen Anmerkungen im Anhang.",
    "cautions": "Zu Ihrer Sicherheit",
    "caution live": (
        "Bei Tageslicht stehen Module und Leitungen immer unter Spannung, auch wenn der "
        "Wechselrichter abgeschaltet ist."
    ),
    "caution skilled": (
        "Arbeiten an der Anlage, ihren Leitungen und ihrem Anschluss sind zugelassenen "
        "Fachkräften vorbehalten. Betreten Sie das Dach nicht."
    ),
    "caution damage": (
        "Halten Sie nach Sturm, Brand, Hochwasser oder bei sichtbaren Schäden Abstand und rufen "
        "Sie eine Fachkraft; sagen Sie der Feuerwehr, dass es eine Solaranlage gibt."
    ),
    "caution aid": (
        "Diese Seiten sind eine Planungshilfe und kein Zertifikat. Maßgebend sind die örtlichen "
        "Vorschriften, die Anleitungen der Hersteller und die zugelassenen Fachkräfte vor Ort."
    ),
    # The annex.
    "annex": "Der folgende Anhang ist für Fachleute und auf Englisch.",
    # Dates.
    "on day": "{day}. {month} {year}",
    "first of month": "1",
    "day mon": "Mo",
    "day tue": "Di",
    "day wed": "Mi",
    "day thu": "Do",
    "day fri": "Fr",
    "day sat": "Sa",
    "day sun": "So",
    "month 1": "Januar",
    "month 2": "Februar",
    "month 3": "März",
    "month 4": "April",
    "month 5": "Mai",
    "month 6": "Juni",
    "month 7": "Juli",
    "month 8": "August",
    "month 9": "September",
    "month 10": "Oktober",
    "month 11": "November",
    "month 12": "Dezember",
    # What nobody knows exactly, by its name in the estimate.
    "cause weather year": "Wetter des Jahres",
    "cause irradiance level": "Wie viel Sonnenlicht die Wetterdaten enthalten",
    "cause long-term light": "Sonnenlicht vieler Jahre",
    "cause diffuse light": "Anteil des diffusen Lichts",
    "cause sky model": "Wie sich das Licht am Himmel verteilt",
    "cause evenly bright share of the sky": "Gleichmäßig heller Anteil des Himmels",
    "cause inverter efficiency": "Wirkungsgrad des Wechselrichters",
    "cause inverter efficiency by DC voltage": "Wirkungsgrad des Wechselrichters nach Spannung",
    "cause inverter efficiency by load": "Wirkungsgrad des Wechselrichters nach Auslastung",
    "cause network voltage": "Spannung des Netzes",
    "cause bypass drop": "Bypassdioden der Module",
    "cause module sorting": "Unterschiede zwischen Modulen",
    "cause weather's clock": "Uhr der Wetterdaten",
    "cause tilt": "Neigung der Module",
    "cause azimuth": "Ausrichtung der Module",
    "cause horizon": "Höhe des Horizonts",
    "cause soiling": "Schmutz auf den Modulen",
    "cause module tolerance": "Leistung der gelieferten Module",
    "cause heat loss of the cells": "Wie gut die Module gekühlt werden",
    "cause low-light slope": "Module bei schwachem Licht",
    "cause snow": "Schnee",
    "cause snow that is not stated": "Schnee, über den nichts bekannt ist",
    "cause yearly loss of module power": "Alterung der Module",
}
