"""A finding: what was checked, against which limit of which rule, and what to do."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass

PASSES = "passes"
COSTS_YIELD = "costs yield"
NOT_PERMITTED = "not permitted"
NOT_CHECKED = "NOT CHECKED"
NOT_APPLICABLE = "not applicable"
VERDICTS = (NOT_PERMITTED, COSTS_YIELD, NOT_CHECKED, PASSES, NOT_APPLICABLE)
"""Verdicts, worst first."""


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
