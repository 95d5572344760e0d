"""The wirings that a search found, as plain values that can be kept in files."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from yieldkit.config.site.site import Site, TrackerStrings
from yieldkit.design.permitted.arrangements import Arrangement, InputClass
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.design.permitted.wirings import Possible


def plain_possible(possible: Possible) -> dict[str, Any]:
    """Return the constraints and the arrangements on each class of inputs, for JSON.

    Parameters
    ----------
    possible : Possible
        What the search found; its candidates go by `candidate_places`.
    """
    return {
        "constraints": plain_constraints(possible.constraints),
        "classes": [
            {
                "mppts": [mppt.name for mppt in own.mppts],
                "arrangements": own.arrangements,
                "dropped": list(own.dropped.items()),
                "lengths": list(own.lengths.items()),
            }
            for own in possible.classes
        ],
    }


def plain_constraints(asked: Constraints) -> dict[str, Any]:
    """Return what was asked of the wirings, for JSON."""
    return asked._asdict() | {"fixed": [each.model_dump(mode="json") for each in asked.fixed]}


def candidate_places(possible: Possible) -> NDArray[np.int32]:
    """Return which arrangements each wiring uses (candidate, class, use), -1 where there is none.

    Parameters
    ----------
    possible : Possible
        What the search found.
    """
    most = max((len(own.mppts) for own in possible.classes), default=1)
    found = np.full((len(possible.candidates), len(possible.classes), most), -1, dtype=np.int32)
    for row, candidate in enumerate(possible.candidates):
        for place, chosen in enumerate(candidate):
            found[row, place, : len(chosen)] = chosen
    return found


def possible_from(content: Mapping[str, Any], site: Site, places: NDArray[np.int32]) -> Possible:
    """Return what a search found out of plain values.

    Parameters
    ----------
    content : mapping
        From `plain_possible`.
    site : Site
        The site.
    places : ndarray of int
        From `candidate_places` (candidate, class, use).
    """
    mppts = {mppt.name: mppt for mppt in site.single_inverter.mppts}
    classes = tuple(
        InputClass(
            tuple(mppts[name] for name in own["mppts"]),
            tuple(_arrangement(*each) for each in own["arrangements"]),
            dict(own["dropped"]),
            {plane: (fewest, most) for plane, (fewest, most) in own["lengths"]},
        )
        for own in content["classes"]
    )
    candidates = tuple(
        tuple(tuple(place for place in chosen if place >= 0) for chosen in candidate)
        for candidate in places.tolist()
    )
    return Possible(site, constraints_from_plain(content["constraints"]), classes, candidates)


def _arrangement(pieces: list[list[list[int]]], usage: list[int], amperes: float) -> Arrangement:
    strings = tuple(tuple((plane, number) for plane, number in piece) for piece in pieces)
    return Arrangement(strings, tuple(usage), amperes)


def constraints_from_plain(content: Mapping[str, Any]) -> Constraints:
    """Return what was asked of the wirings out of plain values.

    Parameters
    ----------
    content : mapping
        From `plain_constraints`.
    """
    fixed = (TrackerStrings.model_validate_json(json.dumps(each)) for each in content["fixed"])
    lists = {
        "crossing": tuple(tuple(group) for group in content["crossing"]),
        "keep_free": tuple(content["keep_free"]),
        "fixed": tuple(fixed),
    }
    return Constraints(**{**content, **lists})
