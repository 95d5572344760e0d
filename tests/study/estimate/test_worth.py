"""An estimate with a load and prices: accounts that close, money from them, and what is said."""

import json

import numpy as np
import pytest
import xarray as xr

from tests.study.estimates import small_site
from tests.study.sites import demo
from tests.weather.several_years import put_year
from yieldkit.base.progress import silent
from yieldkit.config.site.files import (
    load_site,
    read_site_text,
    site_from_mapping,
    two_inverters_text,
)
from yieldkit.report.tables.terminal_estimate import estimate_text
from yieldkit.report.tables.terminal_money import NO_PRICES, house_lines, money_lines
from yieldkit.study.estimate.base_year import base_year
from yieldkit.study.estimate.estimate import drawing_of, estimate
from yieldkit.study.estimate.house import hidden_self_use
from yieldkit.study.estimate.money_result import LOSS, SEVERAL, Money
from yieldkit.study.estimate.offer import assumption_rows
from yieldkit.study.estimate.plant import plant_from_runs
from yieldkit.study.estimate.result import Estimate
from yieldkit.study.estimate.runs import Subject
from yieldkit.study.estimate.worth import with_worth
from yieldkit.study.results.estimate import save_estimate, saved_estimate, tables_of
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import simulate, simulate_wirings
from yieldkit.study.simulation.weather import site_weather

pytestmark = pytest.mark.slow

OFFER = {
    "currency": "EUR",
    "outlay": 20_000.0,
    "purchase": {"price_per_kwh": 0.30},
    "feed_in": {"price_per_kwh": 0.08},
    "running_costs_per_year": 150.0,
    "discount": {"rate_percent": 2.0, "kind": "real", "inflation_percent": 2.0},
}
LOAD = {"kind": "shape", "kwh_per_year": 6_000.0, "clock": "wall", "zone": "Europe/Berlin"}


@pytest.fixture(scope="module")
def found():
    """Return an estimate of the small site with a household and prices, down a tenth of January."""
    site = small_site().variant(
        {
            "grid.load": LOAD,
            "offer": OFFER,
            "estimate.outages_percent_by_month": [10.0] + [0.0] * 11,
        }
    )
    return estimate(site, "plain", draws=64)


def priced(site, **offer):
    """Return a small Dataset of the worth of a site, without all else of an estimate."""
    own = site.variant({"offer": OFFER | offer}) if offer else site
    subject = Subject(prepare(own, site_weather(own)), own.wirings[0])
    drawing = drawing_of(subject, 64, 1)
    plant = plant_from_runs(drawing, np.ones(12), np.zeros(12), (), silent)
    each = [
        plant.one_year(drawing.numbers, drawing.years, year)
        for year in range(1, own.estimate.years + 1)
    ]
    data = with_worth(xr.Dataset(), drawing, plant, np.ones(12), each)
    return data, np.stack([months.sum(axis=2) for months in each], axis=2)


def test_every_draw_and_year_closes(found):
    data, attrs = found.data, found.data.attrs
    used, fed = data["self_use"].to_numpy(), data["export"].to_numpy()
    assert used.shape == fed.shape == (64, 5, 25)
    first = data["first_year"].to_numpy()
    own = attrs["own_consumption_kwh"]
    assert used[:, :, 0] + fed[:, :, 0] - own == pytest.approx(first, abs=1e-6)
    assert min(used.min(), fed.min()) > 0.0
    assert used.max() < attrs["load_kwh"]
    means = (used + fed - own).mean(axis=2)
    # The bands of a mean of twenty years are of the same draws.
    assert means.mean() == pytest.approx(float(data["mean_energy"][:, :, 3].mean()), rel=0.02)


def test_the_house_is_told_likely_and_cautious(found):
    house = found.house
    assert house.index.tolist() == ["self-use", "export", "import", "load", "share of the load"]
    likely, cautious = house["likely"], house["cautious"]
    assert likely["load"] == cautious["load"] == pytest.approx(6_000.0, rel=1e-3)
    assert (cautious[:2] < likely[:2]).all()
    assert cautious["import"] > likely["import"]
    own = found.data.attrs["own_consumption_kwh"]
    assert likely["import"] == pytest.approx(likely["load"] + own - likely["self-use"], abs=1e-6)
    assert likely["share of the load"] == pytest.approx(100.0 * likely["self-use"] / likely["load"])
    assert found.data.attrs["self_use_residual_percent"] < 1.0


def test_money_is_that_of_each_draws_own_kilowatt_hours(found):
    data, money = found.data, found.money
    used, fed = data["self_use"].to_numpy(), data["export"].to_numpy()
    own = data.attrs["own_consumption_kwh"]
    by_hand = 0.30 * (used - own) + 0.08 * fed - 150.0
    flows = data["cash_flow"].to_numpy()
    assert (flows[..., 0] == -20_000.0).all()
    assert flows[..., 1:] == pytest.approx(by_hand, abs=1e-6)
    rate = 1.02 * 1.02
    worth = (by_hand / rate ** np.arange(1.0, 26.0)).sum(axis=2) - 20_000.0
    assert data["net_present_value"].to_numpy() == pytest.approx(worth, abs=1e-6)
    table = money.table
    assert table.loc["net present value", "likely"] == pytest.approx(np.median(worth), abs=1e-6)
    assert table.loc["net present value", "cautious"] == pytest.approx(np.quantile(worth, 0.1))
    # The rate of return is told beside inflation, as the discount is.
    nominal = 1.02 * (1.0 + data["internal_rate"].to_numpy() / 100.0)
    at_rate = (by_hand / nominal[..., None] ** np.arange(1.0, 26.0)).sum(axis=2)
    assert at_rate == pytest.approx(20_000.0, abs=1e-4)


def test_the_cautious_figure_is_the_worse_one(found):
    figures = found.money.figures
    worse = {"levelised cost of energy", "simple payback", "discounted payback"}
    for name, row in figures.iterrows():
        assert (row["cautious"] > row["likely"]) == (name in worse), name
    assert figures["unit"].tolist() == ["EUR", "%", "EUR/kWh", "year", "year"]
    by_year = found.money.by_year
    assert by_year.index.tolist() == list(range(26))
    assert (by_year["cautious"][1:] < by_year["likely"][1:]).all()
    assert by_year.loc[25, "sum likely"] > by_year.loc[25, "sum cautious"] > 0.0


def test_every_variable_has_unit_and_name(found):
    for name in ("self_use", "export", "cash_flow", "net_present_value", "internal_rate"):
        assert found.data[name].attrs["long_name"], name
        assert found.data[name].attrs["units"], name
    assert found.data["cash_flow"].attrs["units"] == "EUR"


def test_it_is_saved_and_read_back(found, tmp_path):
    save_estimate(found, tmp_path, "20260101T000000Z-0000000a")
    back = saved_estimate(tmp_path)
    assert back.money.table.equals(found.money.table)
    assert back.house.equals(found.house)
    assert back.offer["currency"] == "EUR"
    assert back.money.assumptions == found.money.assumptions
    written = json.loads((tmp_path / "estimate.json").read_text(encoding="utf-8"))
    assert written["about"]["offer"]["outlay"] == 20_000.0
    assert {"house", "money", "cash-flow", "prices"} <= set(tables_of(found))
    text = (tmp_path / "estimate-cash-flow.csv").read_text(encoding="utf-8")
    assert text.startswith("year,likely [EUR],cautious [EUR],")


def test_a_terminal_tells_money_with_its_prices_only(found):
    text = " ".join(estimate_text(found, 80).split())
    money = text.index("net present value, EUR")
    assert "Under these prices: outlay, paid before the first year: 20,000.00 EUR" in text[money:]
    assert "discount rate: 2 % a year, real, beside inflation of 2 %" in text
    assert "tax: none reckoned with" in text
    assert "Self-use doesn't scale with energy" in text
    assert "The load stays as it is through the plant's life." in text
    assert "Self-use is an upper bound: the plant's power is known in snapshots every 60" in text
    assert "Self-use is an upper bound, and so is what it saves" in text
    assert "No consumption of the building is stated" not in text
    assert "in money of the first year, beside inflation of 2 %" in text
    bare = Estimate(found.data.drop_vars("cash_flow"))
    assert money_lines(bare, 80) == ["", NO_PRICES]
    attrs = {k: v for k, v in found.data.attrs.items() if k not in ("offer", "has_load")}
    nobody = Estimate(bare.data.drop_attrs().assign_attrs(attrs))
    assert money_lines(nobody, 80) == house_lines(nobody, 80) == []


def changed(found, **variables):
    """Return money whose draws all have other figures."""
    data = found.data.copy()
    for name, value in variables.items():
        data[name] = data[name].copy(data=np.full(data[name].shape, value))
    return data


def test_what_is_no_number_is_said(found):
    never = Money(changed(found, payback_years=np.inf, internal_rate=-np.inf)).table
    assert never.loc["simple payback"].tolist() == ["not within 25 years"] * 2 + ["year"]
    assert never.loc["internal rate of return", "likely"] == LOSS
    assert isinstance(never.loc["discounted payback", "likely"], float)
    taxed = Money(found.data.assign_attrs(taxed=1)).sentences
    assert "The levelised cost is before tax; all else is after it." in taxed
    several = Money(found.data.assign_attrs(several_rates_percent=5.0))
    assert several.table.loc["internal rate of return"].tolist() == [SEVERAL, SEVERAL, "%"]
    assert any(text.startswith("Several rates of return") for text in several.sentences)
    some = Estimate(changed(found, payback_years=np.inf))
    assert "not within 25 years" in "\n".join(money_lines(some, 80))


def test_negative_feed_in_is_told_with_what_curtailing_would_save():
    site = demo().variant({"estimate.years": 3})
    offer = {
        "zone": "Europe/Berlin",
        "feed_in": {
            "periods": [
                {"name": "noon", "price_per_kwh": -0.02, "hours": [[12, 14]]},
                {"name": "other", "price_per_kwh": 0.08, "hours": [[0, 12], [14, 24]]},
            ]
        },
        "discount": {"rate_percent": 5.0, "kind": "nominal"},
    }
    data, energy = priced(site, **offer)
    fed = data["export"].to_numpy()
    # Without a load all is fed in, but for what the inverter takes at night.
    assert not data["self_use"].to_numpy().any()
    assert fed == pytest.approx(energy + data.attrs["own_consumption_kwh"], abs=1e-6)
    assert Estimate(data).house is None
    flows, saves = data["cash_flow"].to_numpy(), data["curtailing_first_year"].to_numpy()
    own = data.attrs["own_consumption_kwh"]
    sold = flows[..., 1] + 150.0 + 0.30 * own
    noon = saves / 0.02
    assert sold == pytest.approx(0.08 * (fed[..., 0] - noon) - 0.02 * noon, abs=1e-6)
    assert 0.15 < (noon / fed[..., 0]).mean() < 0.35
    worth = data["curtailing_worth"].to_numpy()
    assert (worth > 2.4 * saves).all()
    assert (worth < 3.0 * saves).all()
    money = Money(data)
    unsaid = "No consumption of the building is stated (grid.load): all that the plant yields is"
    assert f"{unsaid} reckoned as fed in, none as saved." in money.sentences
    likely, cautious = money.curtailing.loc["first year"]
    said = f"save {likely:,.0f} EUR in the likely first year, {cautious:,.0f} EUR in the cautious"
    assert said in " ".join(money.sentences)
    assert money.table.loc["internal rate of return", "likely"] < 0.0


def test_two_inverters_behind_one_meter_know_their_house():
    site = read_site_text(two_inverters_text(), folder=load_site().folder)
    site = site.variant({"offer": OFFER, "grid.load": LOAD})
    subject = Subject(prepare(site, site_weather(site)), site.wirings[0])
    drawing = drawing_of(subject, 64, 1)
    row = drawing.unsure.base_row()
    (source,) = drawing.weather.sources
    year = base_year(subject, row, source, drawing.weather.blocks, drawing.booking)
    as_it_is = [np.arange(len(each.arriving))[None] for each in year.overlaps]
    used = sum(
        float(each.at(np.ones(1), chosen)[0, 0])
        for each, chosen in zip(year.overlaps, as_it_is, strict=True)
    )
    result = simulate(site, site.wirings[0].name)
    assert used == pytest.approx(result.attrs["self_use_kwh"], rel=1e-3)
    assert year.self_use.sum() == pytest.approx(result.attrs["self_use_kwh"], rel=1e-9)
    assert 0.2 * 6000.0 < used < 0.8 * 6000.0
    run = drawing.booked_run(0)
    assert run[12:].sum() - run[:12].sum() == pytest.approx(year.taken.sum(), abs=1.0)


def test_nothing_is_booked_where_nobody_asks():
    site = small_site()
    drawing = drawing_of(Subject(prepare(site, site_weather(site)), site.wirings[0]), 64, 1)
    assert drawing.booking is None
    data = with_worth(xr.Dataset(), drawing, None, np.ones(12), [])
    assert (list(data.data_vars), data.attrs) == ([], {})
    assert Estimate(data).money is None
    assert Estimate(data).house is None
    assert Estimate(data).offer is None


def test_what_money_rests_on_is_told_row_by_row():
    site = demo().variant(
        {
            "estimate.years": 20,
            "offer": OFFER
            | {
                "purchase": None,
                "feed_in": {
                    "periods": [
                        {"name": "summer", "price_per_kwh": -0.05, "months": [5, 6, 7, 8]},
                        {
                            "name": "other",
                            "price_per_kwh": 0.11,
                            "months": [1, 2, 3, 4, 9, 10, 11, 12],
                        },
                    ]
                },
                "zone": "Europe/Berlin",
                "replacements": [{"what": "fan", "after_year": 8, "cost": 90.0}],
                "growth": {"feed_in_percent": -1.0},
                "tax": {"rate_percent": 25.0, "written_off_over_years": 20},
            },
        }
    )
    rows = dict(assumption_rows(site))
    assert rows["life of the plant"] == "20 years, cash at the end of each"
    assert rows["power that the plant itself takes"] == "at no cost, for no price is stated"
    assert rows["power fed in, summer"] == "minus 0.05 EUR/kWh in year 1"
    assert rows["power fed in, other"] == "0.11 EUR/kWh in year 1"
    assert rows["clock of the periods"] == "on the wall, Europe/Berlin"
    assert rows["fan, after year 8"] == "90.00 EUR, as of year 1"
    assert rows["price of power fed in"] == "falls by 1 % a year"
    assert rows["running costs and replacements"] == "unchanged"
    assert "price of power from the network" not in rows
    assert rows["tax"] == (
        "25 % of what is fed in less costs and the outlay, written off over 20 years; given back "
        "for a loss"
    )
    assert assumption_rows(site.variant({"offer": {"number": "7"}})) == ()
    assert assumption_rows(demo()) == ()


def test_years_with_months_that_are_not_whole_use_what_a_simulation_says(tmp_path):
    files = [put_year(tmp_path, 2014, 0.9)]
    files.append(put_year(tmp_path, 2015, 1.05, gone=[("2015-03-01", "2015-06-01")]))
    content = demo().model_dump(exclude={"folder"})
    content |= {
        "weather": {"file": files, "format": "canonical"},
        "wirings": content["wirings"][:1],
        "grid": content["grid"] | {"load": LOAD},
    }
    site = site_from_mapping(content, folder=tmp_path)
    prepared = prepare(site, site_weather(site))
    drawing = drawing_of(Subject(prepared, site.wirings[0]), 64, 1)
    row = drawing.unsure.base_row()
    (source,) = drawing.weather.sources
    year = base_year(drawing.subject, row, source, drawing.weather.blocks, drawing.booking)
    factors = hidden_self_use(drawing.subject, (year,), drawing.booking)
    # March to May are of one year, all else is the mean of both.
    assert (factors[2:5] == 1.0).all()
    assert (np.abs(factors[[0, 1, 5, 6]] - 1.0) > 1e-4).all()
    (result,) = simulate_wirings(prepared, (site.wirings[0],), silent)[1]
    booked = float((factors * year.self_use).sum())
    assert booked == pytest.approx(result.attrs["self_use_kwh"], rel=1e-9)
