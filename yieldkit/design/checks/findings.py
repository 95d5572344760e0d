"""A finding: what was checked, against which limit of which rule, and what to do."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import asdict, dataclass

import pandas as pd

from yieldkit.base.display import short_name, table_html

PASSES = "passes"
COSTS_YIELD = "costs yield"
NOT_PERMITTED = "not permitted"
NOT_CHECKED = "NOT CHECKED"
NOT_APPLICABLE = "not applicable"
VERDICTS = (NOT_PERMITTED, COSTS_YIELD, NOT_CHECKED, PASSES, NOT_APPLICABLE)
"""Verdicts, worst first."""
_COLUMNS = (
    "check",
    "subject",
    "verdict",
    "value",
    "limit",
    "margin",
    "unit",
    "essential",
    "rule",
    "advice",
)
_MOST_SHOWN = 12
_LINE = 80
_HINT = "The worst are shown; .table() gives all as a DataFrame."


@dataclass(frozen=True)
class Finding:
    """One check of one object.

    Parameters
    ----------
    check : str
        What was checked.
    subject : str
        Tracker, string, cable or the whole.
    verdict : str
        One of `VERDICTS`.
    value, limit : float
        In `unit`; nan where there is none.
    unit : str
        Unit of value and limit.
    rule : str
        Edition and clause, with how it was known.
    advice : str
        One sentence: what to do, or why it was not checked or doesn't apply.
    from_below : bool
        Whether the limit is a lower one.
    essential : bool
        Whether the limit is one of voltage, short circuit, fuse or ampacity: nothing is called
        permitted while such a limit is NOT CHECKED.
    """

    check: str
    subject: str
    verdict: str
    value: float = math.nan
    limit: float = math.nan
    unit: str = ""
    rule: str = ""
    advice: str = ""
    from_below: bool = False
    essential: bool = False

    @property
    def margin(self) -> float:
        """Room between value and limit, in the unit; nan where either is missing."""
        return self.value - self.limit if self.from_below else self.limit - self.value

    def as_dict(self) -> dict[str, str | float | None]:
        """Return the finding as plain values, missing numbers as None."""
        content = asdict(self) | {"margin": self.margin}
        del content["from_below"]
        return {
            key: None if isinstance(value, float) and math.isnan(value) else value
            for key, value in content.items()
        }


class Findings(tuple[Finding, ...]):
    """The findings of one wiring: a tuple that fits a screen and turns into a table."""

    __slots__ = ()

    def table(self) -> pd.DataFrame:
        """Return a row each: check, subject, verdict, numbers with unit, rule, advice."""
        return pd.DataFrame([each.as_dict() for each in self], columns=_COLUMNS)

    def unchecked(self) -> str:
        """Return in words which checks are NOT CHECKED, each once with its subjects' number."""
        found = Counter(each.check for each in self if each.verdict == NOT_CHECKED)
        return "; ".join(
            name if count == 1 else f"{name} ({count})" for name, count in found.items()
        )

    def __repr__(self) -> str:
        lines = [self._counted()]
        for each, subjects in self._worst():
            said = f"  {each.verdict}: {each.check}, {subjects}"
            lines.append("  " + short_name(f"{said}{_numbers(each)}", _LINE - 2))
        return "\n".join([*lines, _HINT])

    __str__ = __repr__

    def _repr_html_(self) -> str:
        rows = [
            (each.verdict, each.check, short_name(subjects), _numbers(each).strip(" :"))
            for each, subjects in self._worst()
        ]
        return table_html(
            f"{self._counted()}. {_HINT}", ("verdict", "check", "subject", "value and limit"), rows
        )

    def _counted(self) -> str:
        found = Counter(each.verdict for each in self)
        counted = ", ".join(f"{found[word]} {word}" for word in VERDICTS if found[word])
        return f"{len(self)} findings: {counted}" if self else "no findings"

    def _worst(self) -> list[tuple[Finding, str]]:
        """Return the first checks that are no pass, worst first, each once with its subjects."""
        counted = [each for each in self if each.verdict in VERDICTS[:3]]
        counted.sort(key=lambda each: (VERDICTS.index(each.verdict), not each.essential))
        first: dict[tuple[str, str, str], tuple[Finding, list[str]]] = {}
        for each in counted:
            key = (each.verdict, each.check, _numbers(each))
            first.setdefault(key, (each, []))[1].append(each.subject)
        shown = list(first.values())[:_MOST_SHOWN]
        return [
            (
                each,
                subjects[0]
                if len(subjects) == 1
                else f"{subjects[0]} and {len(subjects) - 1} more",
            )
            for each, subjects in shown
        ]


def _numbers(finding: Finding) -> str:
    if math.isnan(finding.value) or math.isnan(finding.limit):
        return ""
    unit = "" if finding.unit == "1" else finding.unit
    return f": {finding.value:.5g} against {finding.limit:.5g} {unit}".rstrip()


def at_most(
    check: str,
    subject: str,
    value: float,
    limit: float | None,
    unit: str,
    rule: str,
    *,
    missing: str,
    advice: str = "",
    over: str = NOT_PERMITTED,
    essential: bool = False,
) -> Finding:
    """Compare a value with its upper limit; an unknown limit is never a pass.

    Parameters
    ----------
    check, subject, value, limit, unit, rule
        As for `Finding`; a limit of None is unknown.
    missing : str
        The datum that is missing when there is no limit.
    advice : str
        What to do when the value is above the limit.
    over : str
        Verdict above the limit.
    essential : bool
        As for `Finding`.
    """
    lacking = _lacking(value, limit, missing)
    passed = not lacking and value <= (limit or 0.0) * (1.0 + 1e-9)
    return Finding(
        check,
        subject,
        NOT_CHECKED if lacking else PASSES if passed else over,
        value,
        math.nan if lacking or limit is None else limit,
        unit,
        rule,
        lacking or ("" if passed else advice),
        essential=essential,
    )


def _lacking(value: float, limit: float | None, missing: str) -> str:
    """Return the sentence on the datum that is missing; nothing where there are both."""
    return f"{missing} is not known." if limit is None or math.isnan(value) else ""


def at_least(
    check: str,
    subject: str,
    value: float,
    limit: float | None,
    unit: str,
    rule: str,
    *,
    missing: str,
    advice: str = "",
    under: str = NOT_PERMITTED,
    essential: bool = False,
) -> Finding:
    """Compare a value with its lower limit; see `at_most`."""
    lacking = _lacking(value, limit, missing)
    passed = not lacking and value >= (limit or 0.0) * (1.0 - 1e-9)
    return Finding(
        check,
        subject,
        NOT_CHECKED if lacking else PASSES if passed else under,
        value,
        math.nan if lacking or limit is None else limit,
        unit,
        rule,
        lacking or ("" if passed else advice),
        from_below=True,
        essential=essential,
    )


def not_checked(
    check: str, subject: str, missing: str, rule: str = "", *, essential: bool = False
) -> Finding:
    """Return a check that could not be made, and the datum it lacks."""
    why = f"{missing} is not known."
    return Finding(check, subject, NOT_CHECKED, rule=rule, advice=why, essential=essential)


def not_applicable(
    check: str, subject: str, why: str, rule: str = "", *, essential: bool = False
) -> Finding:
    """Return a check that doesn't apply, and why."""
    return Finding(check, subject, NOT_APPLICABLE, rule=rule, advice=why, essential=essential)
