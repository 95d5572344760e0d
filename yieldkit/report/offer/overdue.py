"""Days of an offer that lie behind the day on which it is made."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from yieldkit.config.models.offer import Offer


def overdue(offer: Offer | None, today: date) -> Iterator[str]:
    """Give what to mind of an offer's days, a sentence each.

    Parameters
    ----------
    offer : Offer or None
        From the site file.
    today : date
        The day on which its pages are made.
    """
    if offer is None:
        return
    if offer.valid_until is not None and date.fromisoformat(offer.valid_until) < today:
        yield (
            f"offer.valid_until is {offer.valid_until} and today is {today:%Y-%m-%d}: nobody can "
            "accept this offer any more."
        )
    if offer.date is not None and date.fromisoformat(offer.date) < today:
        yield f"offer.date is {offer.date}, before today, {today:%Y-%m-%d}."
