"""The best wirings over several inverters as plain values that can be kept in files."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.config.site.site import Site, Wiring
from yieldkit.study.results.possible import constraints_from_plain, plain_constraints
from yieldkit.study.several_inverters.shared_out import SharedOut
from yieldkit.study.simulation.prepare import Prepared

_PLAIN = ("number", "bound_kwh", "solved_whole", "said")


def plain_shared_out(ranking: SharedOut) -> dict[str, Any]:
    """Return wirings, constraints and what is proven, for JSON.

    Parameters
    ----------
    ranking : SharedOut
        From `propose`; its energies go with the other numbers.
    """
    return {
        "constraints": plain_constraints(ranking.constraints),
        "wirings": [wiring.model_dump(mode="json") for wiring in ranking.wirings],
        **{name: getattr(ranking, name) for name in _PLAIN},
    }


def shared_out_from(
    content: Mapping[str, Any],
    site: Site,
    prepared: Prepared,
    energy_kwh: FloatArray,
    held_back_kwh: FloatArray,
    capped_hours: FloatArray,
) -> SharedOut:
    """Return the best wirings over several inverters out of plain values.

    Parameters
    ----------
    content : mapping
        From `plain_shared_out`.
    site : Site
        The site.
    prepared : Prepared
        The same on its weather.
    energy_kwh, held_back_kwh, capped_hours : ndarray
        Of each wiring (wiring,).
    """
    kept = {name: content[name] for name in _PLAIN}
    wirings = (Wiring.model_validate_json(json.dumps(each)) for each in content["wirings"])
    return SharedOut(
        site=site,
        constraints=constraints_from_plain(content["constraints"]),
        prepared=prepared,
        wirings=tuple(wirings),
        energy_kwh=np.asarray(energy_kwh),
        held_back_kwh=np.asarray(held_back_kwh),
        capped_hours=np.asarray(capped_hours),
        **(kept | {"said": tuple(content["said"])}),
    )
