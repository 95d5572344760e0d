"""The command that promises: what it prints, what it leaves behind, what it refuses."""

import re

import pytest

from tests.street.walk import run
from tests.study.batch.plans import AT_WEATHER
from tests.study.estimates import FORBIDDEN, small_estimate
from tests.weather.several_years import put_year
from yieldkit.cli import estimate as cli_estimate
from yieldkit.report.tables.terminal_estimate import estimate_text
from yieldkit.study.estimate.result import Estimate

pytestmark = pytest.mark.slow

FEW = ["--draws", "64"]


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """Return a folder with a site, and another working folder beside it."""
    folder = tmp_path_factory.mktemp("walk")
    for name in ("site", "elsewhere"):
        (folder / name).mkdir()
    (folder / "site" / "shed.yaml").write_text(AT_WEATHER + FORBIDDEN)
    return folder


def told(place, *arguments):
    return run(["estimate", "../site/shed.yaml", *arguments], place / "elsewhere")


@pytest.fixture(scope="module")
def said(place):
    found = told(place, *FEW, "--no-report", "--out", "out")
    assert found.code == 0, found.err
    return found


def words(text):
    return " ".join(text.split())


def test_the_wiring_and_what_is_not_checked_are_said_first(said):
    out = words(said.out)
    assert out.startswith(
        "Wiring: 'plain', which yields most of the 2 wirings with nothing forbidden of 3 in all. "
        "NOT CHECKED: "
    )
    assert "cold open-circuit voltage against module" in out.split("kWh", 1)[0]


def test_likely_and_cautious_stand_together_with_the_nominal_explained(said):
    found = small_estimate()
    out = words(said.out)
    assert f"{found.likely_kwh:,.0f} kWh in the likely first year, " in out
    assert f"{found.cautious_kwh:,.0f} kWh in the cautious one: nine of ten years yield more" in out
    low = 100.0 * (1.0 - found.likely_kwh / found.nominal_kwh)
    assert (
        "The likely year is the median of 64 draws. The nominal one, as the site file stands and "
        f"with nothing drawn, is {found.nominal_kwh:,.0f} kWh; the likely one lies {low:.1f} % "
        "below it, step by step in the way from one to the other."
    ) in out


def test_months_bands_way_and_causes_are_those_of_the_estimate(said):
    found = small_estimate()
    row = " +".join(f"{value:,.0f}" for value in found.bands.loc["mean of 10 years"])
    assert re.search(rf"mean of 10 years +{row}\n", said.out)
    may = found.months.loc["May"]
    numbers = " +".join(f"{may[key]:,.0f}" for key in ("likely", "cautious", "low", "high"))
    assert re.search(rf"May +{numbers}\n", said.out)
    assert re.search(rf"all +{found.likely_kwh:,.0f} +{found.cautious_kwh:,.0f}", said.out)
    for name, step in found.way["energy_kwh"].iloc[1:].items():
        assert re.search(rf"{re.escape(name)} +{re.escape(f'{step:+,.0f}')}\n", said.out), name
    first = found.contributions.index[0]
    assert re.search(rf"{first} +\d+ % +\d+ % +[\d,]+ kWh\n", said.out)
    assert "Nominal year by IEC 61724-1: Y_r 1," in said.out
    assert said.out.rstrip().splitlines()[-1].startswith("Results: ")
    assert "A design aid, not a certificate." in said.out


def test_narrow_terminals_cut_no_number():
    wide, narrow = (estimate_text(small_estimate(), width) for width in (100, 40))
    numbers = re.compile(r"\d[\d,.]*")
    assert sorted(numbers.findall(wide)) == sorted(numbers.findall(narrow))


def test_results_stand_where_they_were_asked_for(said, place):
    names = {path.name for path in (place / "elsewhere" / "out").iterdir()}
    assert {"estimate.nc", "estimate.json", "estimate-months.csv"} <= names
    assert "estimate.html" not in names


def test_the_same_seed_says_the_same(said):
    again = estimate_text(small_estimate(), 80)
    assert said.out.split("\nResults:")[0].rstrip() == again


@pytest.fixture
def asked(monkeypatch):
    """Stand for the work with an estimate that is there; keep what was asked of it."""
    given = []

    def found(site, wiring, **more):
        given.append((wiring, more["draws"], more["seed"]))
        cautions = "A gap.\nA year left out."
        return Estimate(small_estimate().data.assign_attrs(weather_cautions=cautions))

    monkeypatch.setattr(cli_estimate, "estimate_wiring", found)
    return given


def test_wiring_draws_and_seed_are_those_asked_for(place, asked):
    told(place, "--wiring", "crossed", "--draws", "128", "--seed", "7", "--no-report")
    told(place, "--no-report")
    assert asked == [("crossed", 128, 7), (None, 512, 1)]


def test_cautions_of_the_weather_are_told(place, asked):
    found = told(place, "--no-report")
    assert found.err.splitlines() == ["Caution: A gap.", "Caution: A year left out."]
    assert asked


def test_nothing_is_promised_of_a_forbidden_wiring(place):
    found = told(place, *FEW, "--wiring", "too long")
    assert (found.code, found.out) == (1, "")
    assert "got not permitted: cold open-circuit voltage against the input" in words(found.err)
    assert not (place / "elsewhere" / "yieldkit-report").exists()


def test_all_forbidden_is_told_with_its_findings(place):
    both = FORBIDDEN + FORBIDDEN.replace("too long", "longer").replace("mppt: A", "mppt: B")
    text = AT_WEATHER.split("wirings:\n")[0] + "wirings:\n" + both
    (place / "site" / "none.yaml").write_text(text)
    found = run(["estimate", "../site/none.yaml", *FEW, "--no-report"], place / "elsewhere")
    assert (found.code, found.out) == (1, "")
    for name in ("too long", "longer"):
        assert f"wiring '{name}' of Shed (invented): got not permitted: " in words(found.err)


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["--draws", "500"], "--draws: got 500; expected a power of two from 64 to 16,384"),
        (["--draws", "0"], "--draws: got 0; expected a power of two"),
        (["--seed", "-1"], "--seed: got -1; expected a whole number from 0 to 4,294,967,295"),
        (["--wiring", "plan"], "Did you mean 'plain'?"),
        (["--draws", "many"], "argument --draws: invalid int value: 'many'"),
    ],
)
def test_slips_are_told_before_any_work(place, arguments, sentence, monkeypatch, capsys):
    monkeypatch.setattr(cli_estimate, "estimate_wiring", None)
    if arguments[-1] == "many":
        with pytest.raises(SystemExit, match="2"):
            told(place, *arguments)
        return
    found = told(place, *arguments)
    assert found.code == 2
    assert sentence in words(found.err)


def test_a_month_is_no_year(place):
    put_year(place / "site", 2016, gone=[("2016-02-01", "2017-01-01")], name="january.csv")
    text = AT_WEATHER.replace("file: typical-year-45n-8e", "file: january.csv")
    (place / "site" / "month.yaml").write_text(text)
    found = run(["estimate", "../site/month.yaml", *FEW], place / "elsewhere")
    assert (found.code, found.out) == (2, "")
    told_of = words(found.err)
    assert (
        "weather: got 31 days of it; expected one year or several, for an annual figure" in told_of
    )
    assert "Daylight covered by calendar month: Jan 100 %, Feb 0 %" in told_of
