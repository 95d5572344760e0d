"""What an estimate assumes of years to come is told with its source, or refused."""

import pytest

from yieldkit.base.errors import InputError
from yieldkit.config.site.files import load_site, read_site_text, site_text
from yieldkit.study.estimate.terms import terms_told


def told(**changes):
    return terms_told(load_site().variant({f"estimate.{k}": v for k, v in changes.items()}))


def test_what_is_assumed_where_nothing_is_stated():
    ageing, outages, years = terms_told(load_site())
    assert ageing == (
        "Modules lose 0.5 % of their power a year, the same of the first year's power every "
        "year, with a spread of 0.25 points; 25 years of life. Source: median of about 2,000 "
        "measured rates (Jordan and Kurtz 2013, abstract read); between plants: common practice, "
        "no source."
    )
    assert outages.startswith("The plant is up ") or outages.startswith("No outages: ")
    assert years == "How much years differ is not stated."


def test_outages_by_month_are_named_where_there_are_any():
    some = [0.0] * 11 + [4.0]
    assert "beside that down by month: Dec 4 %." in told(outages_percent_by_month=some)[1]
    assert "down by month: never." in told(outages_percent_by_month=[0.0] * 12)[1]
    always = load_site().variant({"grid.availability_percent": 100.0})
    assert terms_told(always)[1].startswith("No outages: grid.availability_percent is 100")


def test_a_stated_spread_of_years_is_told_with_its_source():
    said = {"spread_percent": 3.9, "source": "a record (invented)"}
    assert told(year_to_year=said)[2] == (
        "Years differ by 3.9 % (standard deviation). Source: a record (invented)."
    )


def refusal(**terms):
    with pytest.raises(InputError, match="estimate") as caught:
        load_site().variant({f"estimate.{key}": value for key, value in terms.items()})
    return str(caught.value)


def test_a_spread_without_source_is_refused_with_its_line():
    text = site_text() + "estimate:\n  years: 20\n  year_to_year:\n    spread_percent: 4\n"
    with pytest.raises(InputError, match=r"year_to_year\.spread_percent") as caught:
        read_site_text(text, "barn.yaml")
    line = text.count("\n")
    said = " ".join(str(caught.value).split())
    assert f"barn.yaml line {line}," in said
    assert "got 4 without a source; expected the figure and where it comes from" in said
    assert "Write source: beside it, under estimate.year_to_year" in said


def test_a_loss_without_source_is_refused_and_the_usual_one_is_not():
    assert "0.8 without a source" in refusal(ageing={"power_loss_percent_per_year": 0.8})
    assert "0.1 without a source" in refusal(ageing={"spread_percent_per_year": 0.1})
    load_site().variant({"estimate.ageing": {"power_loss_percent_per_year": 0.5}})


def test_one_source_is_asked_for_once():
    both = {"power_loss_percent_per_year": 0.8, "spread_percent_per_year": 0.1}
    assert refusal(ageing=both).count("without a source") == 1


@pytest.mark.parametrize(
    ("loss", "needed"), [(-0.5, "a number of at least 0"), (50, "a number of at most 5")]
)
def test_losses_that_no_module_has(loss, needed):
    said = refusal(ageing={"power_loss_percent_per_year": loss, "source": "a guess"})
    assert f"got {loss}; expected {needed}" in said
    assert "Power that modules lose in a year" in said


def test_outages_are_of_twelve_months():
    assert "12 shares of time" in refusal(outages_percent_by_month=[1.0, 2.0])
