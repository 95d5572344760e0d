"""Offers that several tests look at, and what stands on their pages."""

import html
import re
from functools import cache

import pytest

from tests.report.pages import offer_in_process
from tests.study.estimates import small_site
from yieldkit.config.site.files import site_from_mapping
from yieldkit.study.estimate.estimate import estimate
from yieldkit.study.estimate.result import Estimate

NAMED = {
    "company": {"name": "Example Roofs (invented)", "lines": ["1 Example Street", "00000 Nowhere"]},
    "customer": {"name": "A. Nobody (invented)", "lines": ["2 Example Lane", "00000 Nowhere"]},
    "number": "2026-001",
    "date": "2026-03-01",
    "valid_until": "2026-04-15",
}
PRICED = {
    "currency": "EUR",
    "outlay": 24000,
    "purchase": {"price_per_kwh": 0.32},
    "feed_in": {
        "periods": [
            {"name": "noon", "price_per_kwh": -0.01, "hours": [[11, 14]]},
            {"name": "other hours", "price_per_kwh": 0.079, "hours": [[0, 11], [14, 24]]},
        ]
    },
    "zone": "Europe/Rome",
    "running_costs_per_year": 240,
    "replacements": [{"what": "inverter", "after_year": 13, "cost": 2600}],
    "growth": {"purchase_percent": 2, "costs_percent": 1.5},
    "discount": {"rate_percent": 3, "kind": "real", "inflation_percent": 2},
    "tax": {"rate_percent": 25, "written_off_over_years": 20},
}
"""Prices of every kind."""
SHEET = re.compile(r'<article class="sheet".*?</article>', re.S)


def offered(language, site=None, **more):
    """Return a site with an offer in a language."""
    own = small_site() if site is None else site
    content = own.model_dump(mode="json")
    content["offer"] = {"language": language, **NAMED, **more}
    return site_from_mapping(content, "site", own.folder)


def priced(language, **more):
    """Return a site with a load and an offer that states prices."""
    site = offered(language, **(PRICED | more))
    return site.variant({"grid.load": {"kind": "shape", "kwh_per_year": 6200}})


@cache
def priced_estimate():
    """Return an estimate of it, of 64 draws."""
    return estimate(priced("en"), draws=64)


def without_prices(found):
    """Return an estimate as it is of a site without load and prices."""
    return Estimate(found.data.assign_attrs(has_load=0).drop_vars("cash_flow"))


def page_of_offer(site, found):
    """Return the customer's page of an estimate, its notebook run in this process."""
    with pytest.MonkeyPatch.context() as patch:
        return offer_in_process(patch, site, found)


def sheets(page):
    """Return the customer's pages alone, without the annex."""
    return SHEET.findall(page)


def words(markup):
    """Return what a person reads in some markup, blanks as they are."""
    return " ".join(re.split(r"[ \n]+", html.unescape(re.sub(r"<[^>]+>", " ", markup)))).strip()


def sections(page):
    """Return the blocks of the customer's pages by their heading."""
    found = {}
    for part in re.findall(r"<section.*?</section>", "".join(sheets(page)), re.S):
        found[words(re.search(r"<h2>(.*?)</h2>", part, re.S)[1])] = part
    return found
