"""What a wiring may be called, and which limits are essential for it."""

import pytest

from tests.config.small import site_from_mapping, with_changes
from tests.study.sites import variant
from yieldkit.design.checks.findings import (
    COSTS_YIELD,
    NOT_CHECKED,
    NOT_PERMITTED,
    PASSES,
    Finding,
    at_least,
    at_most,
    not_applicable,
    not_checked,
)
from yieldkit.design.checks.limits import check
from yieldkit.design.checks.permission import FORBIDDEN, OPEN, PERMITTED, permission

# What is essential: voltage, short circuit, fuse and ampacity.
ESSENTIAL = {
    "cold open-circuit voltage against the input",
    "cold open-circuit voltage against module",
    "cold open-circuit voltage against cable",
    "cold open-circuit voltage against connector",
    "cold open-circuit voltage against DC isolator",
    "cold open-circuit voltage against surge protective device",
    "short-circuit current against the input's rating",
    "short-circuit current of all inputs",
    "current of a connector",
    "reverse current of unloaded strings",
    "string overcurrent protection",
    "string fuse rating",
    "DC isolator current",
    "AC overcurrent device against the current",
    "AC overcurrent device against the lead",
    "AC overcurrent device against the maker's maximum",
}
NOT_ESSENTIAL = {
    "hot operating voltage against the window",
    "start-up voltage against hot open-circuit voltage",
    "operating current against the maximum input current",
    "tracker power",
    "leakage current by array size",
    "DC injection (type test)",
    "bonding conductor",
    "modules not wired",
}


def finding(verdict, check_name="a check", essential=False):
    """Return a finding of a verdict."""
    return Finding(check_name, "somewhere", verdict, essential=essential)


@pytest.mark.slow
@pytest.mark.parametrize("bare", [False, True])
def test_voltage_short_circuit_fuse_and_ampacity_are_essential_whatever_is_known(bare):
    site = site_from_mapping(with_changes()) if bare else variant()
    marked: dict[str, set[bool]] = {}
    for wiring in site.wirings:
        for each in check(site, wiring):
            marked.setdefault(each.check, set()).add(each.essential)
    # One check is essential or it isn't, whatever it finds.
    assert {name for name, marks in marked.items() if len(marks) > 1} == set()
    essential = {name for name, marks in marked.items() if marks == {True}}
    assert essential >= ESSENTIAL & set(marked)
    assert not essential & NOT_ESSENTIAL
    assert set(marked) >= NOT_ESSENTIAL | ESSENTIAL


def test_every_way_to_make_a_finding_carries_the_mark():
    ways = (
        at_most("c", "s", 1.0, 2.0, "V", "r", missing="", essential=True),
        at_most("c", "s", 3.0, 2.0, "V", "r", missing="", essential=True),
        at_most("c", "s", 3.0, None, "V", "r", missing="It", essential=True),
        at_least("c", "s", 1.0, 2.0, "V", "r", missing="", essential=True),
        not_checked("c", "s", "It", essential=True),
        not_applicable("c", "s", "Because.", essential=True),
    )
    assert all(each.essential for each in ways)
    assert all(each.as_dict()["essential"] is True for each in ways)


def test_nothing_is_permitted_while_an_essential_limit_is_not_checked():
    found = [finding(PASSES), finding(NOT_CHECKED, "the fuse", True), finding(NOT_CHECKED, "b")]
    said = permission(found)
    assert said.word == OPEN
    assert said.sentence() == ("nothing forbidden found; 2 limits not checked, among them the fuse")


def test_what_forbids_is_named_and_wins_over_what_is_not_checked():
    found = [
        finding(NOT_PERMITTED, "the volts", True),
        finding(NOT_CHECKED, "the fuse", True),
        finding(NOT_PERMITTED, "the category"),
        finding(NOT_PERMITTED, "the volts", True),
    ]
    said = permission(found)
    assert said.word == FORBIDDEN
    assert said.sentence() == "not permitted: the volts; the category"


def test_other_limits_may_stay_not_checked_and_are_counted():
    said = permission([finding(COSTS_YIELD), finding(NOT_CHECKED)])
    assert said.word == PERMITTED
    assert said.sentence() == (
        "permitted; 1 limit not checked, none of voltage, short circuit, fuses or ampacity"
    )
    assert permission([finding(PASSES)]).sentence() == (
        "permitted; every limit that applies was checked"
    )


def test_many_names_are_cut_short_and_counted():
    found = [finding(NOT_CHECKED, name, True) for name in "abcde"]
    assert permission(found).sentence().endswith("among them a; b; c; 2 more")


def test_the_best_of_a_group_is_called_after_its_own_findings():
    unchecked = permission([finding(NOT_CHECKED, "a", True)] * 43)
    assert unchecked.best_of() == ("best of those with nothing forbidden; 43 limits not checked")
    assert permission([finding(PASSES)]).best_of() == "permitted"
    assert permission([finding(NOT_PERMITTED)]).best_of() == "not permitted"
