"""Offers that several tests look at, and what stands on their pages."""

import html
import re

import pytest

from tests.report.pages import offer_in_process
from tests.study.estimates import small_site
from yieldkit.config.site.files import site_from_mapping

NAMED = {
    "company": {"name": "Example Roofs (invented)", "lines": ["1 Example Street", "00000 Nowhere"]},
    "customer": {"name": "A. Nobody (invented)", "lines": ["2 Example Lane", "00000 Nowhere"]},
    "number": "2026-001",
    "date": "2026-03-01",
    "valid_until": "2026-04-15",
}
SHEET = re.compile(r'<article class="sheet".*?</article>', re.S)


def offered(language, site=None, **more):
    """Return a site with an offer in a language."""
    own = small_site() if site is None else site
    content = own.model_dump(mode="json")
    content["offer"] = {"language": language, **NAMED, **more}
    return site_from_mapping(content, "site", own.folder)


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
    for sheet in sheets(page):
        for part in re.findall(r"<section.*?</section>", sheet, re.S):
            found[words(re.search(r"<h2>(.*?)</h2>", part, re.S)[1])] = part
    return found
