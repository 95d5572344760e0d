"""The words of the customer's pages: all there in every language, and numbers as it writes them."""

import re
import string
from pathlib import Path

import pytest

import yieldkit.report
from yieldkit.config.models.offer import Offer
from yieldkit.report.words.language import LANGUAGES, Language, language_of
from yieldkit.study.estimate import unknowns
from yieldkit.study.estimate.money_result import FIGURES
from yieldkit.study.estimate.spread import BLOCKS, MEASURED, STATED
from yieldkit.study.uncertainty.unknowns import UNKNOWNS

ENGLISH = LANGUAGES["en"]
OTHERS = [code for code in LANGUAGES if code != "en"]
SAME = {
    "de": {
        "kwp",
        "of period",
        "of period at",
        "first of month",
        "month 4",
        "month 8",
        "month 9",
        "month 11",
    },
    "fr": {"date", "on day", "signature"},
}
"""Words that another language happens to write like English."""
ENGLISH_WORDS = re.compile(
    r"\b(the|of|and|year|years|month|with|which|that|is|are|not|more|cases|plant|roof)\b", re.I
)
COMPOSED = ("cause ", "month ", "day ", "caution ")
"""How keys begin that are put together from a name or a number."""


def places(text):
    return sorted(name for _, name, _, _ in string.Formatter().parse(text) if name is not None)


def written(code, form=None):
    return language_of(Offer(language=code, number_format=form))


@pytest.mark.parametrize("code", OTHERS)
def test_every_language_says_all_that_english_says(code):
    words = LANGUAGES[code]
    assert list(words) == list(ENGLISH)
    assert {key for key in ENGLISH if places(words[key]) != places(ENGLISH[key])} == set()


@pytest.mark.parametrize("code", LANGUAGES)
def test_no_word_is_empty_or_twice_spaced(code):
    for key, text in LANGUAGES[code].items():
        assert text == text.strip(), key
        assert text, key
        assert "  " not in text, key


@pytest.mark.parametrize("code", OTHERS)
def test_no_english_is_left(code):
    words = LANGUAGES[code]
    assert {key for key in ENGLISH if words[key] == ENGLISH[key]} <= SAME[code]
    plain = {key: re.sub(r"{\w+}", "", text) for key, text in words.items()}
    assert {key: text for key, text in plain.items() if ENGLISH_WORDS.search(text)} == {}


def test_a_planted_english_sentence_is_found():
    assert ENGLISH_WORDS.search("Half of all cases yield more.")


def test_french_signs_have_their_blank():
    """French puts a blank that doesn't break before a colon and the like (from memory)."""
    for key, text in LANGUAGES["fr"].items():
        assert not re.search(r"(?<![\u00a0\u202f])[:;!?]", text), key
        assert "'" not in text, key


def test_every_word_is_used():
    folder = Path(yieldkit.report.__file__).parent
    source = "".join(
        path.read_text(encoding="utf-8")
        for path in folder.rglob("*.py")
        if path.name not in ("english.py", "german.py", "french.py")
    )
    used = {*re.findall(r'"([^"\n]+)"', source), *re.findall(r"say\('([^'\n]+)'\)", source)}
    ends = ("year", "means")
    composed = (
        {f"{which} {end}" for which in ("likely", "cautious") for end in ends}
        | {f"signed {who}" for who in ("customer", "company", "place")}
        | {BLOCKS, MEASURED, STATED, *FIGURES}
    )
    assert {
        key for key in ENGLISH if key not in used | composed and not key.startswith(COMPOSED)
    } == set()


def test_every_unknown_has_a_name_for_customers():
    known = {each.name for each in UNKNOWNS}
    known |= {unknowns.YEAR, unknowns.AGEING, unknowns.SNOW, unknowns.SNOW_UNSTATED}
    known |= {unknowns.LEVEL, unknowns.LONG_TERM, unknowns.SKY, unknowns.EVENLY_BRIGHT}
    assert known == {key.removeprefix("cause ") for key in ENGLISH if key.startswith("cause ")}


@pytest.mark.parametrize(
    ("code", "form", "said"),
    [
        ("en", None, "12,345.7"),
        ("de", None, "12.345,7"),
        ("fr", None, "12\u202f345,7"),
        ("de", "1 234,5", "12\u202f345,7"),
        ("de", "1'234.5", "12\u2019345.7"),
        ("en", "1.234,5", "12.345,7"),
    ],
)
def test_numbers_are_written_as_the_language_does_or_as_asked(code, form, said):
    assert written(code, form).number(12345.67, 1) == said


def test_small_numbers_have_signs_only_where_they_are_less_than_nothing():
    german = written("de")
    assert [german.number(value, 1) for value in (-0.04, 0.0, -0.06)] == ["0,0", "0,0", "−0,1"]
    assert german.number(float("nan")) == "–"
    assert [german.plain(value) for value in (25.0, 0.5, 0.25, 0.333)] == [
        "25",
        "0,5",
        "0,25",
        "0,33",
    ]


def test_unit_and_number_stay_on_one_line():
    assert written("fr").kwh(8214.4) == "8\u202f214\u00a0kWh"
    assert written("de").percent(42.04, 1) == "42,0\u00a0%"


@pytest.mark.parametrize(
    ("code", "first", "second"),
    [
        ("en", "1 March 2026", "28 August 2026"),
        ("de", "1. März 2026", "28. August 2026"),
        ("fr", "1er mars 2026", "28 août 2026"),
    ],
)
def test_days_are_written_as_the_language_does(code, first, second):
    assert [written(code).day(day) for day in ("2026-03-01", "2026-08-28")] == [first, second]


def test_without_an_offer_words_are_english():
    assert language_of(None) == Language("en", ENGLISH, ",", ".")
