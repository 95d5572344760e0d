"""Figures of an estimate that stand there with their source, or are refused."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from yieldkit.base.errors import Problem
from yieldkit.config.models.estimate import STATED_LOSS_PERCENT, STATED_SPREAD_PERCENT
from yieldkit.config.reading.content import Content
from yieldkit.config.reading.parts import number, part

_USUAL = {
    "power_loss_percent_per_year": STATED_LOSS_PERCENT,
    "spread_percent_per_year": STATED_SPREAD_PERCENT,
}


def estimate_relations(content: Content) -> Iterator[Problem]:
    """Give the problems of figures without a source.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    """
    ageing = part(content.values, "estimate", "ageing")
    for key, usual in _USUAL.items():
        stated = number(ageing, key)
        if stated is not None and stated != usual and not _has_source(ageing):
            yield _without_source(content, "ageing", key, stated)
            break  # One source speaks for both.
    years = part(content.values, "estimate", "year_to_year")
    spread = number(years, "spread_percent")
    if spread is not None and not _has_source(years):
        yield _without_source(content, "year_to_year", "spread_percent", spread)


def _has_source(values: Any) -> bool:
    return bool(part(values, "source"))


def _without_source(content: Content, block: str, key: str, stated: float) -> Problem:
    return Problem(
        content.where(("estimate", block, key)),
        f"{stated:g} without a source",
        "the figure and where it comes from: a promise rests on it",
        remedy=f"Write source: beside it, under estimate.{block}, such as the study or the "
        "maker's warranty.",
    )
