"""Reviews of logs saved: everything as NetCDF, what people read as JSON and CSV."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pandas as pd
from pydantic import TypeAdapter

from yieldkit.base.files import read_dataset, write_dataset, write_json
from yieldkit.base.staging import staged
from yieldkit.config.site.site import Site
from yieldkit.study.results.named_tables import tables_content, write_tables
from yieldkit.study.results.origin import refuse_other_site
from yieldkit.study.review.result import Loss, Plateau, Resistance, Review, Sign

REVIEW = "review"
REVIEW_PAGE = "first_year.html"
"""Kind of run and name of the page under which reviews are saved."""
REVIEW_FILE = "review.nc"
_PARTS: dict[str, TypeAdapter[Any]] = {
    "signs": TypeAdapter(tuple[Sign, ...]),
    "plateaus": TypeAdapter(tuple[Plateau, ...]),
    "resistances": TypeAdapter(tuple[Resistance, ...]),
    "losses": TypeAdapter(tuple[Loss, ...]),
    "rests_on": TypeAdapter(tuple[str, ...]),
    "remarks": TypeAdapter(tuple[str, ...]),
}
"""What stands beside the Dataset; it is kept as JSON in the file's attributes."""


def save_review(found: Review, folder: str | Path, run: str | None = None) -> tuple[Path, ...]:
    """Save a review.

    Parameters
    ----------
    found : Review
        What `review` returned.
    folder : str or Path
        Where to; made if needed.
    run : str, optional
        The run's id; a new one if left out.

    Returns
    -------
    tuple of Path
        The files, and a manifest with the run's id and their hashes.
    """
    with staged(folder, REVIEW, (REVIEW_PAGE,), run) as stage:
        write_review(found, stage.folder, stage.run)
        return stage.put()


def write_review(found: Review, folder: Path, run: str) -> None:
    """Write a review's files under the id of a run."""
    parts = {name: json.dumps(getattr(found, name)) for name in _PARTS}
    write_dataset(folder / REVIEW_FILE, found.data.assign_attrs(run=run, **parts))
    write_json(folder / "review.json", {**review_content(found), "run": run})
    write_tables(tables_of(found), REVIEW, folder, run)


def tables_of(found: Review) -> dict[str, pd.DataFrame]:
    """Return a review's tables by their names, units in the heads.

    Parameters
    ----------
    found : Review
        The review.
    """
    by_hour = found.by_hour.rename_axis("hour").reset_index()
    by_hour.columns = [str(name) for name in by_hour.columns]
    return {
        "months": found.months.rename_axis("month").reset_index(),
        "hours": by_hour,
        "left-out": found.hours.reset_index(),
        "signs": pd.DataFrame(_signs(found), columns=list(_SIGN_HEADS)),
    }


_SIGN_HEADS = (
    "kind",
    "of what",
    "words",
    "look first at",
    "hours",
    "months",
    "size",
    "size from",
    "size to",
    "unit",
    "standard deviations",
    "took [kWh]",
)


def _signs(found: Review) -> list[tuple[object, ...]]:
    return [
        (
            own.kind,
            own.subject,
            own.words,
            own.look,
            " ".join(map(str, own.hours)),
            " ".join(own.months),
            *own.size,
            own.unit,
            own.deviations,
            own.lost_kwh,
        )
        for own in found.signs
    ]


def review_content(found: Review) -> dict[str, Any]:
    """Return a review as plain values for JSON; what nobody knows is null.

    Parameters
    ----------
    found : Review
        The review.
    """
    tables = {name: table for name, table in tables_of(found).items() if name != "signs"}
    return {
        "site": found.site,
        "wiring": found.wiring,
        "log": found.log,
        "answer": found.answer,
        "signs": [_plain(own) for own in found.signs],
        "plateaus": [_plain(own) for own in found.plateaus],
        "resistances": [_plain(own) for own in found.resistances],
        "losses": [_plain(own) for own in found.losses],
        "rests_on": list(found.rests_on),
        "remarks": list(found.remarks),
        **tables_content(tables),
        "about": {name: _plain(value) for name, value in found.data.attrs.items()},
    }


def _plain(value: Any) -> Any:
    """Return a value as JSON has it: named tuples as objects, no infinities, no nan."""
    if isinstance(value, tuple) and hasattr(value, "_asdict"):
        return {name: _plain(part) for name, part in value._asdict().items()}
    if isinstance(value, tuple):
        return [_plain(part) for part in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def saved_review(folder: str | Path, site: Site | None = None) -> Review:
    """Return a review that was saved, without computing anything again.

    Parameters
    ----------
    folder : str or Path
        Where it was saved.
    site : Site, optional
        The site it has to be of; any if left out.

    Raises
    ------
    InputError
        For a file that isn't as it was written, or a review of something else.
    """
    path = Path(folder) / REVIEW_FILE
    data = read_dataset(path)
    refuse_other_site(path, data.attrs, site)
    parts = {
        name: kind.validate_python(json.loads(data.attrs.pop(name)))
        for name, kind in _PARTS.items()
    }
    attrs = data.attrs
    return Review(str(attrs["site"]), str(attrs["wiring"]), str(attrs["log"]), data, **parts)
