"""`estimate --customer`: pages and paper beside the results, and what is told where one lacks."""

import subprocess
from datetime import date

import pytest

import yieldkit
from tests.oracles import require
from tests.street.page_checks import one_run_goes_through
from tests.street.walk import run
from tests.study.batch.plans import AT_WEATHER
from yieldkit.base.files import write_text
from yieldkit.cli import estimate as cli_estimate
from yieldkit.config.models.offer import Offer
from yieldkit.report.offer.overdue import overdue
from yieldkit.report.page import paper
from yieldkit.report.page.paper import NotPrinted, print_page

OFFER = "offer: {language: fr, date: 2026-03-01, valid_until: 2026-04-15}\n"


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """Return a folder with a site that has an offer, and another working folder beside it."""
    folder = tmp_path_factory.mktemp("offer")
    for name in ("site", "elsewhere"):
        (folder / name).mkdir()
    (folder / "site" / "shed.yaml").write_text(AT_WEATHER + OFFER)
    return folder


def told(place, *arguments):
    return run(["estimate", "../site/shed.yaml", "--customer", *arguments], place / "elsewhere")


def words(text):
    return " ".join(text.split())


@pytest.fixture(scope="module")
def made(place):
    """Return what the command said that made the pages."""
    found = told(place, "--draws", "64", "--out", "out")
    assert found.code == 0, found.err
    return found


@pytest.mark.slow
def test_page_and_paper_lie_beside_the_results_with_their_run(place, made):
    require("chromium")
    folder = place / "elsewhere" / "out"
    page, pdf = folder.resolve() / "offer.html", folder.resolve() / "offer.pdf"
    assert f"For the customer: {page} and {pdf}" in made.out
    assert "Caution: offer.valid_until is 2026-04-15 and today is " in made.err
    one_run_goes_through(folder, "estimate-manifest.json")
    text = page.read_text(encoding="utf-8")
    assert '<article class="sheet" lang="fr">' in text
    printed = subprocess.run(
        [require("pdftotext"), str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout
    run_id = text.split('<meta name="run" content="')[1].split('"')[0]
    assert f"run {run_id}" in words(printed)
    assert "estimate.html" not in {path.name for path in folder.iterdir()}


@pytest.fixture
def quick(monkeypatch, place, made):
    """Stand for the work and for the notebook with what is there at once."""

    def report(notebook, given, folder, *, stage, progress):
        write_text(stage.folder / notebook.replace("ipynb", "html"), f"<p>{stage.run}</p>")
        return (stage.target / notebook).with_suffix(".html")

    there = yieldkit.load(place / "elsewhere" / "out", "estimate")
    monkeypatch.setattr(cli_estimate, "estimate_wiring", lambda *asked, **more: there)
    monkeypatch.setattr(yieldkit, "run_report", report)


@pytest.mark.slow
@pytest.mark.usefixtures("quick")
def test_without_a_browser_the_page_stays_and_it_is_said(place, monkeypatch):
    monkeypatch.setattr(paper, "_NAMES", ("no-such-browser",))
    monkeypatch.setattr(paper, "_PLACES", ())
    monkeypatch.delenv(paper.BROWSER, raising=False)
    (place / "elsewhere" / "bare").mkdir()
    (place / "elsewhere" / "bare" / "offer.pdf").write_text("of an earlier run")
    found = told(place, "--out", "bare")
    assert found.code == 0
    assert (
        "Caution: No PDF: none of the browsers that can print it is here (no-such-browser). Open "
        "the page in a browser and print it on A4, or name one of these in YIELDKIT_BROWSER."
    ) in words(found.err)
    folder = place / "elsewhere" / "bare"
    names = {path.name for path in folder.iterdir()}
    assert {"offer.html", "estimate.nc"} <= names
    assert "offer.pdf" not in names
    assert found.out.rstrip().splitlines()[-1] == "For the customer: bare/offer.html"


@pytest.mark.slow
@pytest.mark.usefixtures("quick")
def test_the_report_takes_the_place_of_an_earlier_offer(place):
    folder = place / "elsewhere" / "twice"
    folder.mkdir()
    for name in ("offer.html", "offer.pdf"):
        (folder / name).write_text("of an earlier run")
    found = run(["estimate", "../site/shed.yaml", "--out", "twice"], place / "elsewhere")
    assert found.code == 0
    assert "valid_until" not in found.err
    names = {path.name for path in folder.iterdir()}
    assert "estimate.html" in names
    assert not {"offer.html", "offer.pdf"} & names


def test_pages_and_no_report_are_not_asked_for_together(place, monkeypatch):
    monkeypatch.setattr(cli_estimate, "estimate_wiring", None)
    found = told(place, "--no-report")
    assert found.code == 2
    assert words(found.err).endswith(
        "--customer: got --no-report beside it; expected one of the two: pages for a customer are "
        "a report."
    )


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("offer: {language: it}", "got 'it'; expected one of 'en', 'de', 'fr'"),
        ("offer: {logo_file: logo.svg}", "expected a PNG or JPEG picture of at most 1 MB"),
        ("offer: {logo_file: large.png}", "'large.png' of 1.2 MB"),
    ],
)
def test_slips_in_an_offer_are_told_before_any_work(place, monkeypatch, text, sentence):
    monkeypatch.setattr(cli_estimate, "estimate_wiring", None)
    (place / "site" / "logo.svg").write_text("<svg onload=alert(1)></svg>")
    (place / "site" / "large.png").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(1_200_000))
    (place / "site" / "slip.yaml").write_text(f"{AT_WEATHER}{text}\n")
    found = run(["estimate", "../site/slip.yaml", "--customer"], place / "elsewhere")
    assert found.code == 2
    assert sentence in words(found.err)


def test_days_gone_by_are_told_and_others_are_not():
    today = date(2026, 4, 15)
    assert list(overdue(None, today)) == []
    assert list(overdue(Offer(date="2026-04-15", valid_until="2026-04-15"), today)) == []
    assert list(overdue(Offer(date="2026-04-14", valid_until="2026-04-14"), today)) == [
        "offer.valid_until is 2026-04-14 and today is 2026-04-15: nobody can accept this offer any "
        "more.",
        "offer.date is 2026-04-14, before today, 2026-04-15.",
    ]


@pytest.fixture
def page(tmp_path):
    path = tmp_path / "page.html"
    path.write_text("<p>A page</p>")
    return path


def script(tmp_path, text):
    """Return a program that stands for a browser."""
    path = tmp_path / "browser"
    path.write_text(f"#!/bin/sh\n{text}\n")
    path.chmod(0o755)
    return str(path)


FIND = 'for each; do case "$each" in --print-to-pdf=*) out="${each#*=}";; esac; done; '


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("exit 3", r"\(it ended with 3\)"),
        ("exit 0", r"\(it left no whole PDF\)"),
        (FIND + 'printf "%%PDF-1.4 and no more" > "$out"', r"\(it left no whole PDF\)"),
        ("sleep 60", r"\(nothing after 1 s\)"),
    ],
)
def test_a_browser_that_fails_leaves_the_earlier_paper_and_says_why(
    page, tmp_path, monkeypatch, text, why
):
    monkeypatch.setenv(paper.BROWSER, script(tmp_path, text))
    monkeypatch.setattr(paper, "_LIMIT_S", 1.0)
    pdf = tmp_path / "page.pdf"
    pdf.write_bytes(b"earlier")
    with pytest.raises(NotPrinted, match=f"did not print the page {why}. Open the page"):
        print_page(page, pdf)
    assert pdf.read_bytes() == b"earlier"


def test_the_browser_that_is_named_prints_without_network_scripts_or_a_person_s_profile(
    page, tmp_path, monkeypatch
):
    keep = f'printf "%s\\n" "$@" > {tmp_path}/asked; '
    monkeypatch.setenv(
        paper.BROWSER, script(tmp_path, FIND + keep + 'printf "%%PDF-1.4\\n%%%%EOF\\n" > "$out"')
    )
    print_page(page, tmp_path / "page.pdf")
    assert (tmp_path / "page.pdf").read_bytes() == b"%PDF-1.4\n%%EOF\n"
    asked = (tmp_path / "asked").read_text().splitlines()
    assert asked[-1] == page.as_uri()
    assert "--host-resolver-rules=MAP * ~NOTFOUND" in asked
    assert any(each.startswith("--user-data-dir=") for each in asked)


def test_a_name_of_no_program_is_told(page, tmp_path, monkeypatch):
    monkeypatch.setenv(paper.BROWSER, "no-such-browser")
    sentence = "YIELDKIT_BROWSER names 'no-such-browser', which is no program here"
    with pytest.raises(NotPrinted, match=sentence):
        print_page(page, tmp_path / "page.pdf")
