"""Tables and first answer of a what-if batch's page."""

from __future__ import annotations

from collections.abc import Mapping
from math import isnan

from yieldkit.report.markup import Html, template
from yieldkit.report.tables.html import answers_box, sentences, table
from yieldkit.report.tables.terminal import before
from yieldkit.study.batch.what_if import Best, WhatIf

_HEADING = template("<h1>What if? {{ name }}</h1>")


def what_if_heading(found: WhatIf) -> Html:
    """Return the page's one main heading."""
    return Html(_HEADING.render(name=found.plan))


def what_if_box(found: WhatIf) -> Html:
    """Return the first thing to read: the best run of every site, and how the batch went.

    Parameters
    ----------
    found : WhatIf
        From `what_if`.
    """
    best = [_best_sentence(each) for each in found.best]
    counted = ", ".join(f"{count:,} {status}" for status, count in found.counts.items())
    answers = [
        ("How did it go?", f"Runs: {counted}."),
        ("Against what?", _reference(found)),
        ("What is left out?", before(found.lacking)),
    ]
    if found.invented:
        answers.append(("Whose building?", "Building and equipment are invented."))
    return answers_box(best[0], ("And the other sites?", best[1:]), answers)


def _reference(found: WhatIf) -> str:
    if isnan(found.reference_kwh):
        return "No run has a result, so that nothing can be compared."
    return (
        f"Effects of single axes count from the reference, {_values(found.reference)}: "
        f"{found.reference_kwh:,.0f} kWh."
    )


def _best_sentence(best: Best) -> str:
    if not best.run:
        return f"{best.site}: no run that may be built."
    return (
        f"{best.site}: {best.energy_kwh:,.0f} kWh ({best.kwh_per_kwp:,.0f} kWh/kWp) with "
        f"{_values(best.values)}; {best.permission}."
    )


def _values(values: Mapping[str, str]) -> str:
    return ", ".join(f"{name} {value}" for name, value in values.items())


def best_runs_table(found: WhatIf) -> Html:
    """Return the best run of every site that may be built."""
    names = list(found.reference)
    rows = [
        (
            best.site,
            *(best.values.get(name, "") for name in names),
            f"{best.energy_kwh:,.0f}" if best.run else "",
            f"{best.kwh_per_kwp:,.0f}" if best.run else "",
            best.permission or "none may be built",
            best.run[:8],
        )
        for best in found.best
    ]
    first = len(names) + 1
    return table(
        ("site", *names, "kWh", "kWh/kWp", "allowed", "run"),
        rows,
        "The run with the most energy of every site, of those whose wiring passes every check "
        "there; where none does, of those with nothing forbidden found.",
        numbers=(first, first + 1),
    )


def effects_table(found: WhatIf) -> Html:
    """Return the energy of every value of every axis, all others at the reference."""
    rows = [
        (
            effect.name,
            value,
            "" if isnan(energy) else f"{energy:,.0f}",
            "" if isnan(energy) else _change(energy - effect.reference_kwh),
        )
        for effect in found.effects
        for value, energy in zip(effect.values, effect.own(found.wiring), strict=True)
    ]
    return table(
        ("axis", "value", "kWh", "against the reference, kWh"),
        rows,
        "Each axis alone, all others at the reference. Empty: no such run, or it failed.",
        numbers=(2, 3),
    )


def _change(change: float) -> str:
    return f"{change:+,.0f}" if change else "the same"


def failures_table(found: WhatIf) -> Html:
    """Return why runs failed, the most frequent reason first."""
    if not found.failures:
        return sentences(("No run failed.",))
    rows = [(each.message, f"{each.runs:,}", each.run[:8]) for each in found.failures]
    return table(
        ("what went wrong", "runs", "such as"),
        rows,
        "Runs that failed; their results are missing, and they count nowhere.",
        numbers=(1,),
    )
