"""The wiring that an estimate is of: named, or the best with nothing forbidden, or none."""

import pytest

from tests.study.estimates import small_estimate, small_site
from yieldkit.base.errors import InputError, NothingPermitted
from yieldkit.study.estimate.choice import chosen_wiring, refuse_forbidden
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import simulate
from yieldkit.study.simulation.weather import site_weather

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def june():
    """Return ten days of weather in June."""
    weather = site_weather(small_site())
    return weather.isel(time=slice(24 * 160, 24 * 170)).assign_attrs(weather.attrs)


def site_of(*names):
    site = small_site()
    kept = tuple(wiring for wiring in site.wirings if wiring.name in names)
    return site.model_copy(update={"wirings": kept})


def choice(june, *names, asked=None):
    return chosen_wiring(prepare(site_of(*names), june), asked)


def test_without_a_name_the_best_with_nothing_forbidden_is_taken(june):
    site = small_site()
    energy = {each: simulate(site, each, june).attrs["energy_kwh"] for each in ("plain", "crossed")}
    assert energy["plain"] > energy["crossed"]
    found = choice(june, "crossed", "plain", "too long")
    assert found.wiring.name == "plain"
    assert found.sentence == (
        "'plain', which yields most of the 2 wirings with nothing forbidden of 3 in all"
    )
    alone = choice(june, "crossed", "plain").sentence
    assert alone == "'plain', which yields most of the 2 wirings with nothing forbidden"


def test_how_the_only_one_is_called(june):
    assert choice(june, "crossed").sentence == (
        "'crossed', the only wiring of the file; nothing forbids it"
    )
    assert choice(june, "crossed", "too long").sentence == (
        "'crossed', the only one of 2 wirings with nothing forbidden"
    )
    assert choice(june, "crossed", "plain", asked="crossed").sentence == (
        "'crossed', as it was asked for"
    )


def test_all_forbidden_is_refused_with_the_finding(june):
    with pytest.raises(NothingPermitted, match="cold open-circuit voltage against the input") as no:
        choice(june, "too long")
    said = str(no.value)
    assert "wiring 'too long' of Shed (invented): got not permitted: cold open-circuit" in said
    assert "expected a wiring that no limit forbids, before a yield is promised of it" in said
    assert "`yieldkit check` tells values and limits, `yieldkit propose` finds wirings" in said


def test_a_forbidden_wiring_by_its_name_is_refused_where_it_is_promised():
    refuse_forbidden(small_site(), "plain")
    with pytest.raises(NothingPermitted, match="not permitted"):
        refuse_forbidden(small_site(), "too long")
    with pytest.raises(InputError, match="Did you mean 'plain'"):
        refuse_forbidden(small_site(), "plan")


def test_an_estimate_tells_its_wiring_and_what_it_may_be_called():
    attrs = small_estimate().data.attrs
    assert attrs["wiring"] == "plain"
    assert attrs["chosen"].startswith("'plain', which yields most of the 2 wirings")
    assert attrs["permission"] == "nothing forbidden found"
    assert "cold open-circuit voltage against module" in attrs["not_checked"]


def test_the_nominal_year_is_that_of_a_simulation():
    found = small_estimate()
    result = simulate(small_site(), "plain")
    assert found.nominal_kwh == pytest.approx(result.attrs["energy_kwh"], rel=1e-9)
    losses = found.losses
    assert losses["loss_kwh"].to_numpy() == pytest.approx(result["loss_budget"].to_numpy())
    delivered = found.data.attrs["nameplate_kwh"] - losses["loss_kwh"].sum()
    assert delivered == pytest.approx(found.nominal_kwh, rel=1e-9)
    assert losses["share_percent"].sum() == pytest.approx(
        100.0 * (1.0 - found.nominal_kwh / found.data.attrs["nameplate_kwh"])
    )
    own = found.yields
    assert own["Y_f"] == pytest.approx(result.attrs["kwh_per_kwp"], rel=1e-9)
    assert own["Y_r"] - own["L_C"] - own["L_BOS"] == pytest.approx(own["Y_f"], rel=1e-12)
    assert own["PR"] == pytest.approx(own["Y_f"] / own["Y_r"])
    assert own["PR"] < own["PR'_STC"] < 1.0
    assert list(own.index) == ["Y_r", "Y_A", "Y_f", "L_C", "L_BOS", "PR", "PR'_STC"]
