"""Parts of the DC side: the isolator's category, current and poles, and mated connectors."""

from __future__ import annotations

import math
from collections.abc import Iterator

from yieldkit.config.site.site import Site
from yieldkit.design.checks.findings import (
    NOT_PERMITTED,
    PASSES,
    Finding,
    at_least,
    at_most,
    not_checked,
)
from yieldkit.design.checks.rules import isolator_category, string_rule, switching_categories
from yieldkit.design.checks.wired import StringFacts


def isolator(site: Site, strings: tuple[StringFacts, ...]) -> Iterator[Finding]:
    """Check the DC isolator's category, current and poles."""
    part = site.single_inverter.dc_isolator
    factor = string_rule(site.standards.strings, "isc_factor").value
    sums: dict[str, float] = {}
    for string in strings:
        sums[string.mppt.name] = sums.get(string.mppt.name, 0.0) + string.i_sc
    largest = factor * max(sums.values(), default=0.0)
    rule = "IEC 60947-3:2020, utilization categories (from memory)"
    yield _category(part.category if part else None, rule)
    yield at_most(
        "DC isolator current",
        "DC isolator",
        largest,
        part.rated_current_a if part else None,
        "A",
        rule,
        missing="The isolator's rated current",
        advice="A larger isolator.",
        essential=True,
    )
    yield at_least(
        "DC isolator poles",
        "DC isolator",
        float(part.poles) if part and part.poles else math.nan,
        2.0,
        "1",
        rule,
        missing="The number of poles",
        advice="Both poles have to open.",
    )


def _category(stated: str | None, rule: str) -> Finding:
    """Check that the isolator is made to switch the array's current."""
    check, subject = "DC isolator category", "DC isolator"
    if stated is None:
        return not_checked(check, subject, "The isolator's category", rule)
    known = isolator_category(stated)
    if known is not None and known.value:
        return Finding(check, subject, PASSES, rule=known.text)
    why = "is made to open and close without load only" if known else "is no known category"
    return Finding(
        check,
        subject,
        NOT_PERMITTED,
        rule=known.text if known else rule,
        advice=f"'{stated}' {why}. Take one of {', '.join(switching_categories())}.",
    )


def connectors(site: Site, strings: tuple[StringFacts, ...]) -> Finding:
    """Check that mated connector pairs are of one make and type."""
    check = "one connector type per mated pair"
    rule = "IEC 62548, connectors of the same make and type (from memory)"
    types = {module.connector for string in strings for *_, module in string.groups}
    types.add(site.single_inverter.connector)
    if None in types:
        return not_checked(check, "connectors", "The make and type of every connector", rule)
    same = len(types) == 1
    return Finding(
        check,
        "connectors",
        PASSES if same else NOT_PERMITTED,
        rule=rule,
        advice="" if same else "Change one side: " + ", ".join(sorted(map(str, types))) + ".",
    )
