"""An offer's prices stand together, its tariffs cover every hour, its picture is one."""

import struct
import zlib
from pathlib import Path

import pytest

from tests.config.small import mapping, only_problem, refusal, sentence
from yieldkit.base.errors import InputError
from yieldkit.config.relations.offer_logo import MOST_BYTES, media_type
from yieldkit.config.site.files import read_site_text, site_from_mapping

WEEK = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
PRICES = {
    "currency": "EUR",
    "outlay": 12_000.0,
    "feed_in": {"price_per_kwh": 0.08},
    "discount": {"rate_percent": 4.0, "kind": "nominal"},
}


def png(tail=b""):
    """Return a picture of one grey dot."""

    def chunk(kind, data):
        body = kind + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0))
    dot = chunk(b"IDAT", zlib.compress(b"\0\x80"))
    return b"\x89PNG\r\n\x1a\n" + head + dot + chunk(b"IEND", b"") + tail


def with_offer(life=25, **offer):
    return mapping() | {"offer": offer, "estimate": {"years": life}}


def priced(**more):
    return with_offer(**(PRICES | more))


def said(**more):
    return sentence(priced(**more))


def periods(*rows, zone="Europe/Berlin"):
    made = tuple({"name": name, "price_per_kwh": 0.1, **where} for name, where in rows)
    return {"purchase": {"periods": made}, "zone": zone}


def test_prices_that_stand_together_are_taken():
    offer = site_from_mapping(priced()).offer
    assert offer.discount.rate_percent == 4.0
    assert (offer.running_costs_per_year, offer.replacements, offer.tax) == (0.0, (), None)
    assert offer.language == "en"
    assert site_from_mapping(mapping()).offer is None


def test_an_offer_without_prices_is_one():
    offer = site_from_mapping(with_offer(company={"name": "Roofs (invented)"}, number="7")).offer
    assert (offer.outlay, offer.company.lines) == (None, ())


@pytest.mark.parametrize("key", sorted(PRICES))
def test_some_prices_alone_are_refused_with_what_lacks(key):
    content = with_offer(**{name: own for name, own in PRICES.items() if name != key})
    assert f"without {key}; expected all of currency, outlay, feed_in and discount" in sentence(
        content
    )


@pytest.mark.parametrize(
    "more",
    [
        {"running_costs_per_year": 5.0},
        {"replacements": ({"what": "fan", "after_year": 3, "cost": 9.0},)},
        {"growth": {"costs_percent": 2.0}},
        {"tax": {"rate_percent": 25.0, "written_off_over_years": 20}},
        {"purchase": {"price_per_kwh": 0.3}},
    ],
)
def test_costs_without_prices_are_refused(more):
    (key,) = more
    assert f"{key} without currency, outlay, feed_in, discount" in sentence(with_offer(**more))


def test_growth_of_nothing_is_no_price():
    site_from_mapping(with_offer(growth={"costs_percent": 0.0}))


@pytest.mark.parametrize(
    "grid", [{"load_w": 300.0}, {"load": {"kind": "constant", "power_w": 300.0}}]
)
def test_a_load_asks_for_what_its_power_costs(grid):
    assert "without purchase" in sentence(priced() | {"grid": grid})
    site_from_mapping(priced(purchase={"price_per_kwh": 0.3}) | {"grid": grid})


def test_a_tariff_is_one_price_or_periods():
    assert "feed_in: got neither a price nor periods; expected price_per_kwh" in said(feed_in={})
    both = {"price_per_kwh": 0.1, "periods": ({"name": "all", "price_per_kwh": 0.1},)}
    assert "purchase: got a price and periods" in said(purchase=both, zone="Europe/Berlin")


def test_negative_and_free_feed_in_are_taken():
    for price in (0.0, -0.05):
        assert site_from_mapping(priced(feed_in={"price_per_kwh": price})).offer


def test_prices_in_cents_are_told():
    found = said(feed_in={"price_per_kwh": 8.2})
    assert "got 8.2 EUR for a kilowatt-hour; expected at most 5 EUR" in found
    assert "In hundredths: write 0.082." in found
    site_from_mapping(priced(currency="JPY", feed_in={"price_per_kwh": 8.2}))
    row = ("all", {"price_per_kwh": 31.0})
    assert "purchase.periods.0.price_per_kwh: got 31 EUR" in said(**periods(row))


def test_periods_that_cover_every_hour_once_are_taken():
    work, rest = WEEK[:5], WEEK[5:]
    site_from_mapping(
        priced(
            **periods(
                ("winter", {"months": (1, 2, 3, 10, 11, 12)}),
                ("day", {"months": (4, 5, 6, 7, 8, 9), "days": work, "hours": ((6, 22),)}),
                (
                    "night",
                    {"months": (4, 5, 6, 7, 8, 9), "days": work, "hours": ((0, 6), (22, 24))},
                ),
                ("weekend", {"months": (4, 5, 6, 7, 8, 9), "days": rest}),
            )
        )
    )


def test_a_hole_in_a_tariff_is_named():
    hole = periods(("day", {"hours": ((6, 22),)}), ("night", {"hours": ((0, 6), (22, 23))}))
    found = said(**hole)
    assert "purchase.periods: got no price for 4% of the year's hours, the first January," in found
    assert "Monday from 23 to 24 h; expected periods that cover every hour" in found
    rows = [("most", {"months": tuple(range(1, 12))})]
    rows += [("december", {"months": (12,), "days": WEEK[:6]})]
    rows += [("sundays", {"months": (12,), "days": WEEK[6:], "hours": ((0, 23),)})]
    assert "no price for December, Sunday from 23 to 24 h;" in said(**periods(*rows))


def test_an_overlap_of_a_tariff_is_named():
    found = said(
        **periods(("day", {"hours": ((6, 23),)}), ("night", {"hours": ((0, 6), (22, 24))}))
    )
    assert "'day' and 'night' both for 4% of the year's hours, the first January, Monday" in found
    assert "from 22 to 23 h" in found
    # The same hour twice in one period counts as one too many.
    assert "'all' and 'all' both for" in said(**periods(("all", {"hours": ((0, 24), (3, 4))})))


def test_hours_over_midnight_are_two_spans():
    found = said(**periods(("night", {"hours": ((22, 6),)}), ("day", {"hours": ((6, 22),)})))
    assert "periods.0.hours: got the hours [22, 6]; expected from a full hour to a later" in found
    assert "[[0, 6], [22, 24]]" in found


def test_periods_follow_a_clock_on_the_wall():
    row = ("all", {})
    found = said(**periods(row, zone=None))
    assert "time_zone: got 'UTC+01:00', of which no summer time is known" in found
    assert "write offer.zone: Area/City" in found
    assert "offer.zone: got 'Nowhere/City'" in said(**periods(row, zone="Nowhere/City"))
    assert "zone where no tariff has periods" in said(zone="Europe/Berlin")


@pytest.mark.parametrize(
    ("discount", "needed"),
    [
        ({"rate_percent": -100.0, "kind": "nominal"}, "a number above -100"),
        ({"rate_percent": -250.0, "kind": "nominal"}, "a number above -100"),
        ({"rate_percent": 2.0, "kind": "real"}, "the inflation that it comes on top of"),
        (
            {"rate_percent": 2.0, "kind": "real", "inflation_percent": -100.0},
            "a number above -100",
        ),
        ({"rate_percent": 2.0, "kind": "nominal", "inflation_percent": 2.0}, "a real rate only"),
    ],
)
def test_rates_that_mean_nothing_are_refused(discount, needed):
    assert needed in said(discount=discount)


def test_a_real_rate_with_its_inflation_is_taken():
    real = {"rate_percent": -1.0, "kind": "real", "inflation_percent": 2.0}
    assert site_from_mapping(priced(discount=real)).offer.discount.inflation_percent == 2.0


def test_what_comes_after_the_plants_life_is_refused():
    part = ({"what": "inverter", "after_year": 20, "cost": 900.0},)
    found = sentence(with_offer(20, **PRICES, replacements=part))
    assert "got a replacement after year 20 of a life of 20; expected a year before" in found
    site_from_mapping(with_offer(21, **PRICES, replacements=part))
    tax = {"rate_percent": 25.0, "written_off_over_years": 21}
    assert "got 21 years of a life of 20" in sentence(with_offer(20, **PRICES, tax=tax))


@pytest.mark.parametrize(
    ("key", "value", "needed"),
    [
        ("currency", "euro", "a code of three capitals by ISO 4217, such as EUR"),
        ("language", "it", "one of 'en', 'de', 'fr'"),
        ("number_format", "1.234,50", "one of '1,234.5'"),
        ("date", "31.03.2026", "a day as year-month-day, such as 2026-03-31"),
        ("date", "2026-02-30", "that is in the calendar"),
        ("outlay", 0.0, "a number above 0"),
        ("outlay", -5.0, "a number above 0"),
    ],
)
def test_words_and_numbers_out_of_place(key, value, needed):
    problems = refusal(priced(**{key: value})).problems
    (told,) = [each for each in problems if f"offer.{key}" in each.where]
    assert needed in told.sentence()


def test_an_offer_ends_after_it_begins():
    found = said(date="2026-03-31", valid_until="2026-03-30")
    assert "got 2026-03-30, before the offer's date 2026-03-31" in found
    site_from_mapping(priced(date="2026-03-31", valid_until="2026-03-31"))


def test_days_and_formats_are_read_as_written(tmp_path):
    text = (
        Path(__file__).parents[2].joinpath("site_configs/demo.yaml").read_text(encoding="utf-8")
        + "offer:\n  date: 2026-03-31\n  valid_until: '2026-04-30'\n  number_format: 1.234,5\n"
    )
    offer = read_site_text(text, folder=str(tmp_path)).offer
    assert (offer.date, offer.valid_until) == ("2026-03-31", "2026-04-30")
    assert offer.number_format == "1.234,5"


def logo_site(folder, name):
    return site_from_mapping(with_offer(logo_file=name), folder=folder)


def logo_told(folder, name):
    with pytest.raises(InputError, match=r"offer\.logo_file") as caught:
        logo_site(folder, name)
    (problem,) = caught.value.problems
    return problem.sentence()


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (png(), "image/png"),
        (png(b"\n\0"), "image/png"),
        (b"\xff\xd8\xff\xe0 invented \xff\xd9", "image/jpeg"),
        (png()[:40], ""),
        (b"\xff\xd8\xff\xe0 cut", ""),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", ""),
        (b"GIF89a", ""),
        (b"", ""),
    ],
)
def test_a_picture_is_known_by_how_it_begins_and_ends(data, kind, tmp_path):
    assert media_type(data) == kind
    (tmp_path / "mark.png").write_bytes(data)
    if kind:
        assert logo_site(tmp_path, "mark.png").offer.logo_file == "mark.png"
    else:
        found = logo_told(tmp_path, "mark.png")
        assert "'mark.png', which is no whole PNG or JPEG picture; expected a PNG or" in found


def test_a_logo_that_is_too_large_or_not_there_is_refused(tmp_path):
    (tmp_path / "large.png").write_bytes(png() + b"\0" * MOST_BYTES)
    assert "'large.png' of 1.0 MB; expected a PNG or JPEG picture of at most" in logo_told(
        tmp_path, "large.png"
    )
    assert "'gone.png', which is not there" in logo_told(tmp_path, "gone.png")
    (tmp_path / "folder").mkdir()
    assert "'folder', which is a folder" in logo_told(tmp_path, "folder")


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"outlay": 20.0}, "outlay: got 20 EUR for 19.44 kWp; expected 100 to 20,000 EUR for each"),
        ({"outlay": 20.0}, "A dot between thousands, or the price of one kWp? A dot is a decimal"),
        ({"outlay": 1200.0}, "write 1200000."),
        ({"outlay": 500_000.0}, "got 500000 EUR for 19.44 kWp"),
        (
            {"running_costs_per_year": 1.25},
            "running_costs_per_year: got 1.25 EUR; expected at least 5 EUR. A dot between",
        ),
        (
            {"replacements": ({"what": "inverter", "after_year": 9, "cost": 2.5},)},
            "replacements.0.cost: got 2.5 EUR; expected at least 10 EUR. A dot between thousands? "
            "A dot is a decimal point: write 2500.",
        ),
        (
            {"running_costs_per_year": 5_000.0},
            "got 5000 a year for a plant of 12000; expected at most 25 % of its price a year. Of",
        ),
    ],
)
def test_a_dot_between_thousands_is_told(more, told):
    assert told in said(**more)


def test_other_currencies_and_usual_prices_are_taken():
    site_from_mapping(priced(currency="JPY", outlay=20.0, running_costs_per_year=1.0))
    site_from_mapping(priced(outlay=2_000.0))
    site_from_mapping(priced(running_costs_per_year=5.0))


def test_hours_that_are_misread_are_told_once():
    hours = only_problems(periods(("day", {"hours": (6, 22)}), ("night", {"hours": ((22, 24),)})))
    assert all("hours" in each for each in hours)
    days = only_problems(periods(("day", {"days": ("monday",)})))
    assert len(days) == 1
    assert "Did you mean 'mon'?" in days[0]
    months = only_problems(periods(("day", {"months": (13,)})))
    assert len(months) == 1


def only_problems(offer):
    return [each.sentence() for each in refusal(priced(**offer)).problems]


def test_one_thing_wrong_is_one_problem():
    assert only_problem(priced(feed_in={"price_per_kwh": "8 ct"})).where.endswith("price_per_kwh")
