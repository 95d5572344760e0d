"""Inverters chosen out of a site's kinds: the best of each choice, what is told and refused."""

import numpy as np
import pytest

from tests.study.several_inverters.plain_enumeration import enumerated
from tests.study.several_inverters.wide_roofs import days, kind, roofs, silent
from yieldkit.base.errors import InputError
from yieldkit.cli.main import main
from yieldkit.config.site.files import site_from_mapping
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.report.tables.terminal_choice import choice_text
from yieldkit.study.several_inverters.choice import choose
from yieldkit.study.several_inverters.inverter_rows import inverter_kinds, solved_kinds
from yieldkit.study.several_inverters.shared_side import shared_side
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.wiring_energies.energies import lit_steps

pytestmark = pytest.mark.slow

WITHIN = Constraints(shortest=6, longest=12)
WATTS = {"small": (3000.0, 1), "flat": (4500.0, 2), "middle": (6000.0, 2), "big": (9000.0, 2)}
EUR = {"amount": 900.0, "currency": "EUR"}


def kinds(**prices):
    """Return four kinds of inverters, some with a price."""
    return [
        kind(name, *numbers, **({"price": prices[name]} if name in prices else {}))
        for name, numbers in WATTS.items()
    ]


def priced(own, **changes):
    """Return the site with the kinds changed."""
    content = own.model_dump(exclude={"folder"})
    for each in content["inverter_types"]:
        each |= changes.get(each["name"], {})
    return site_from_mapping(content)


@pytest.fixture(scope="module")
def site():
    """Return a site of two planes whose file has four kinds of inverters."""
    return roofs((14, 12), [(each, {}) for each in kinds(small=EUR, middle=EUR, big=EUR)])


@pytest.fixture(scope="module")
def choice(site):
    """Return all choices of up to two of them."""
    return choose(site, 2, WITHIN, days())


def test_every_choice_is_there(choice):
    assert len(choice.table) == 4 + 10
    assert len(set(choice.table["inverters"])) == 14


def test_the_best_of_each_pair_is_that_of_plain_enumeration(site, choice):
    checked = 0
    for first, one in enumerate(kinds()):
        for second, other in enumerate(kinds()):
            if second < first:
                continue
            pair = roofs((14, 12), [(one, {}), (other, {})])
            of, kind_of = inverter_kinds(pair, WITHIN, silent)
            prepared = prepare(pair, days())
            lit = lit_steps(prepared)
            solved = solved_kinds(prepared, of, kind_of, WITHIN, lit, silent)
            side = shared_side(prepared, solved, kind_of, lit)
            best = enumerated(side, np.array([14, 12])).best(1)
            name = f"2 x {one['name']}" if first == second else f"{one['name']} + {other['name']}"
            found = choice.table.set_index("inverters").loc[name]
            if not best.size:
                assert np.isnan(found["energy_kwh"])
                continue
            assert found["energy_kwh"] == pytest.approx(best[0], rel=1e-9)
            assert found["bound_kwh"] == pytest.approx(best[0], rel=1e-8)
            checked += 1
    assert checked >= 8


def test_ratio_inputs_and_prices_are_those_of_the_choice(site, choice):
    row = choice.table.set_index("inverters").loc["small + big"]
    kwp = 26 * 0.43
    assert row["dc_ac_ratio"] == pytest.approx(kwp / 12.0, rel=1e-9)
    assert row["price"] == 1800.0
    assert np.isnan(choice.table.set_index("inverters").loc["2 x flat"]["price"])
    used = row["wiring"].count(" / MPPT ")
    assert row["unused_inputs"] == 3 - used
    assert choice.currency == "EUR"


def test_what_is_too_small_says_how_much_it_leaves_out(choice):
    row = choice.table.set_index("inverters").loc["small"]
    assert np.isnan(row["energy_kwh"])
    # One input of two strings of at most twelve modules: 24 of 26.
    assert row["left_at_least"] == 2
    assert "small (at least 2 left out)" in choice_text(choice, 3)


def test_the_text_answers_first(choice):
    said = " ".join(choice_text(choice, 3, 200).split())
    best = choice.table.iloc[0]
    assert said.startswith(
        f"Of 14 choices of inverters this yields most, {best['energy_kwh']:,.0f}"
    )
    assert "proven to be its best" in said
    assert "EUR" in said
    assert "NOT CHECKED here: write it" in said
    assert "design aid" in said


def test_the_command_prints_and_keeps_the_table(tmp_path, capsys):
    assert main(["propose", "--choose", "1", "--out", str(tmp_path / "new")]) == 0
    said = capsys.readouterr().out
    assert "Of one choice of inverters this yields most" in said
    assert (tmp_path / "new" / "choice.csv").is_file()


@pytest.mark.parametrize(
    ("most", "told"),
    [
        (0, "inverters to choose: got 0; expected at least 1"),
        (9, "got up to 9 of 4 kinds, 714 choices; expected at most 250 choices"),
    ],
)
def test_too_few_or_too_many_are_refused(site, most, told):
    with pytest.raises(InputError, match="inverters to choose") as refused:
        choose(site, most, WITHIN, days())
    assert told in str(refused.value)


def test_wishes_by_input_are_refused(site):
    asked = WITHIN._replace(keep_free=("small / MPPT 1",))
    with pytest.raises(InputError, match="where the inverters are still to be chosen"):
        choose(site, 1, asked, days())


def test_a_kind_that_no_string_fits_is_refused_with_the_reason(site):
    asked = Constraints(shortest=23)
    with pytest.raises(InputError, match=r"inverter_types\.small: got a kind on whose") as refused:
        choose(site, 1, asked, days())
    assert "start-up voltage and cold open-circuit voltage leave 23 to 2" in str(
        refused.value
    ).replace("Start-up", "start-up")


def test_prices_in_two_currencies_are_refused(site):
    mixed = priced(site, flat={"price": {"amount": 1.0, "currency": "CHF"}})
    with pytest.raises(InputError, match="got prices in CHF and EUR; expected prices in one"):
        choose(mixed, 1, WITHIN, days())


def test_a_price_without_currency_is_refused(site):
    with pytest.raises(InputError, match=r"price\.currency"):
        priced(site, flat={"price": {"amount": 1.0}})


def test_kinds_of_another_connection_are_refused(site):
    content = site.model_dump(exclude={"folder"})
    content["inverters"] = [each for each in content["inverters"] if each["type"] != "flat"]
    for each in content["inverter_types"]:
        if each["name"] == "flat":
            each["ac"]["phases"] = 1
    with pytest.raises(InputError, match=r"inverter_types\.flat: got 1 x 230 V; expected 3 x 230"):
        choose(site_from_mapping(content), 1, WITHIN, days())


def test_saving_a_site_with_a_choice_is_refused(capsys, tmp_path):
    path = tmp_path / "mine.yaml"
    assert main(["propose", "--choose", "1", "--save-site", str(path)]) == 2
    assert "--choose: got with --save-site or --every-days" in capsys.readouterr().err
