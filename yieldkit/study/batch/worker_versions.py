"""Whether workers compute the same as this process: versions and sources of what computes."""

from __future__ import annotations

import json
from collections.abc import Mapping

from yieldkit.study.batch.names import sources
from yieldkit.study.simulation.provenance import versions

_COMPARED = ("yieldkit", "numpy", "numba")


def own_versions() -> dict[str, str]:
    """Return the versions of what computes here, and a hash of yieldkit's sources."""
    known = json.loads(versions())
    return {**{name: known[name] for name in _COMPARED}, "sources": sources()}


def other_versions(workers: Mapping[str, dict[str, str] | BaseException]) -> str:
    """Return in words which worker has what other version; "" if none has.

    Parameters
    ----------
    workers : mapping
        Addresses, and what `own_versions` gave there or what went wrong.
    """
    own = own_versions()
    for address, found in sorted(workers.items()):
        if not isinstance(found, Mapping):
            return f"worker {address} without this version of yieldkit ({found})"
        for name in _COMPARED:
            if found.get(name) != own[name]:
                return f"worker {address} with {name} {found.get(name)}, where {own[name]} is here"
        if found.get("sources") != own["sources"]:
            return f"worker {address} with other sources of yieldkit {own['yieldkit']} than here"
    return ""
