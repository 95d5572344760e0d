"""The command that makes the sheet: what it prints and leaves behind, what it refuses."""

import pytest

from tests.street.walk import run
from tests.study.batch.plans import AT_WEATHER
from tests.study.estimates import FORBIDDEN
from yieldkit.study.results.handover import TABLE_FILE

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """Return a folder with a site, and another working folder beside it."""
    folder = tmp_path_factory.mktemp("walk")
    for name in ("site", "elsewhere"):
        (folder / name).mkdir()
    (folder / "site" / "shed.yaml").write_text(AT_WEATHER + FORBIDDEN)
    return folder


def told(place, *arguments):
    return run(["handover", "../site/shed.yaml", *arguments], place / "elsewhere")


@pytest.fixture(scope="module")
def said(place):
    found = told(place, "--wiring", "plain", "--out", "out")
    assert found.code == 0, found.err
    return found


def test_the_terminal_tells_strings_and_the_way_to_sheet_and_table(said):
    out = " ".join(said.out.split())
    assert out.startswith("Wiring: 'plain', sheet ")
    assert "Strings are live in daylight, and DC arcs don't go out" in out
    assert "a design aid and not a certificate" in out
    assert "12:10 here is 11:10 UTC" in out
    assert out.endswith("Sheet: out/handover.html Table to fill in: out/handover.csv") or (
        "/out/handover.html Table to fill in: out/handover.csv" in out
    )


def test_page_table_and_json_lie_together_under_one_run(said, place):
    names = {path.name for path in (place / "elsewhere" / "out").iterdir()}
    assert names == {
        "handover-manifest.json",
        "handover.csv",
        "handover.html",
        "handover.json",
        "written.sha256",
    }
    page = (place / "elsewhere" / "out" / "handover.html").read_text(encoding="utf-8")
    assert "Wiring: plain" in page
    table = (place / "elsewhere" / "out" / TABLE_FILE).read_bytes()
    assert table.startswith(b"\xef\xbb\xbfwhat,quantity,unit,reading,")


def test_a_filled_in_table_stays(said, place):
    table = place / "elsewhere" / "out" / TABLE_FILE
    table.write_bytes(table.read_bytes() + b"mine\n")
    found = told(place, "--wiring", "plain", "--out", "out", "--no-report")
    assert found.code == 2
    assert "may hold readings" in found.err
    assert table.read_bytes().endswith(b"mine\n")


def test_without_a_folder_nothing_is_left_behind(place):
    found = told(place, "--no-report")
    assert found.code == 0
    assert "The first of 3 wirings; --wiring NAME chooses another." in found.err
    assert "Table to fill in" not in found.out
    assert not (place / "elsewhere" / "yieldkit-report").exists()


def test_a_forbidden_wiring_is_refused_and_an_unknown_one_too(place):
    names = [line.split("name: ")[1] for line in FORBIDDEN.splitlines() if "name: " in line]
    found = told(place, "--wiring", names[0].split(",")[0].strip("}"), "--no-report")
    assert found.code == 1, found.err
    assert "before anybody builds it" in found.err
    found = told(place, "--wiring", "plaim", "--no-report")
    assert found.code == 2
    assert "Did you mean 'plain'?" in found.err


def test_a_day_and_its_air_are_checked(place):
    for given, sentence in (
        (["--on", "21.6."], "--on: got '21.6.'; expected a day such as 2026-06-21"),
        (
            ["--on", "2026-06-21", "--air", "310"],
            "--air: got 310 degC; expected an air temperature",
        ),
    ):
        found = told(place, "--no-report", *given)
        assert found.code == 2
        assert sentence in found.err
    assert told(place, "--no-report", "--on", "2026-06-21", "--air", "26").code == 0
