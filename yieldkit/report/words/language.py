"""A language of the customer's pages: its words, and how it writes numbers, energies and days."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from typing import NamedTuple

from yieldkit.config.models.offer import Offer
from yieldkit.report.words import english, french, german

LANGUAGES: Mapping[str, Mapping[str, str]] = {
    "en": english.WORDS,
    "de": german.WORDS,
    "fr": french.WORDS,
}
NO_BREAK, NARROW = "\u00a0", "\u202f"
"""Blanks at which no line is broken: between number and unit, and between groups of figures."""
_SIGNS = {
    "1,234.5": (",", "."),
    "1.234,5": (".", ","),
    "1 234,5": (NARROW, ","),
    "1'234.5": ("\u2019", "."),
}
"""Ways to write numbers, and the signs between groups and before decimals."""
_USUAL = {"en": "1,234.5", "de": "1.234,5", "fr": "1 234,5"}
_MINUS = "\u2212"


class Language(NamedTuple):
    """The words of the customer's pages, and how numbers and days are written.

    Parameters
    ----------
    code : str
        By ISO 639-1.
    words : mapping of str to str
        Sentences by their keys, with named places for values.
    group, decimal : str
        Sign between groups of three figures, and sign before decimals.
    """

    code: str
    words: Mapping[str, str]
    group: str
    decimal: str

    def say(self, key: str, **values: str) -> str:
        """Return a sentence with values at its places."""
        return self.words[key].format(**values)

    def number(self, value: float, digits: int = 0) -> str:
        """Return a number, nothing without a sign, a missing one as a dash.

        Parameters
        ----------
        value : float
            The number.
        digits : int
            Decimals.
        """
        if math.isnan(value):
            return "–"
        rounded = round(float(value), digits)
        plain = f"{abs(rounded):,.{digits}f}"
        signs = {",": self.group, ".": self.decimal}
        written = "".join(signs.get(char, char) for char in plain)
        return f"{_MINUS}{written}" if rounded < 0.0 else written

    def amount(self, value: float, unit: str, digits: int = 0) -> str:
        """Return a number with its unit on the same line."""
        return f"{self.number(value, digits)}{NO_BREAK}{unit}"

    def kwh(self, value: float) -> str:
        """Return an energy [kWh]."""
        return self.amount(value, "kWh")

    def percent(self, value: float, digits: int = 0) -> str:
        """Return a share [%]."""
        return self.amount(value, "%", digits)

    def plain(self, value: float, most: int = 2) -> str:
        """Return a number with no more decimals than it has, so many at most."""
        fits = (n for n in range(most) if math.isclose(round(value, n), value))
        return self.number(value, next(fits, most))

    def change(self, percent: float) -> str:
        """Return by how much something changes [%], more with its sign as less."""
        sign = "+" if percent > 0.0 else ""
        return f"{sign}{self.plain(percent)}{NO_BREAK}%"

    def month(self, number: int) -> str:
        """Return the name of a month, 1 to 12."""
        return self.words[f"month {number}"]

    def day(self, iso: str) -> str:
        """Return a day as the language writes it, from year-month-day."""
        on = date.fromisoformat(iso)
        first = self.words["first of month"]
        number = first if on.day == 1 else str(on.day)
        return self.say("on day", day=number, month=self.month(on.month), year=str(on.year))


def language_of(offer: Offer | None) -> Language:
    """Return the language of an offer; English where there is none.

    Parameters
    ----------
    offer : Offer or None
        From the site file.
    """
    code = "en" if offer is None else offer.language
    written = None if offer is None else offer.number_format
    return Language(code, LANGUAGES[code], *_SIGNS[written or _USUAL[code]])
