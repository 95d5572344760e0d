"""Which wiring an estimate is of: the one that is named, or the best with nothing forbidden."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.errors import NothingPermitted, Problem
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.checks.findings import Findings
from yieldkit.design.checks.limits import check, named_wiring
from yieldkit.design.checks.permission import FORBIDDEN, permission
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.wiring_energies.energies import wiring_energies


class Choice(NamedTuple):
    """The wiring of an estimate.

    Parameters
    ----------
    wiring : Wiring
        The wiring.
    sentence : str
        How it was chosen.
    findings : Findings
        Its electrical findings.
    """

    wiring: Wiring
    sentence: str
    findings: Findings


def chosen_wiring(prepared: Prepared, name: str | None) -> Choice:
    """Return the wiring of an estimate.

    Parameters
    ----------
    prepared : Prepared
        The site on its weather.
    name : str or None
        The wiring's name; None for the one that yields most of those with nothing forbidden.

    Raises
    ------
    InputError
        If the site has no such wiring.
    NothingPermitted
        If none is named and all are forbidden, with the checks that forbid them.
    """
    site = prepared.site
    if name is not None:
        wiring = named_wiring(site, name)
        return Choice(wiring, f"'{name}', as it was asked for", check(site, wiring))
    found = {wiring.name: check(site, wiring) for wiring in site.wirings}
    open_to = [
        wiring for wiring in site.wirings if permission(found[wiring.name]).word != FORBIDDEN
    ]
    if not open_to:
        raise NothingPermitted(_forbidden(site, found))
    best = open_to[0]
    if len(open_to) > 1:
        best = open_to[int(np.argmax(wiring_energies(prepared, open_to)))]
    return Choice(best, _said(best, len(open_to), len(site.wirings)), found[best.name])


def _said(best: Wiring, open_to: int, every: int) -> str:
    if every == 1:
        return f"'{best.name}', the only wiring of the file; nothing forbids it"
    if open_to == 1:
        return f"'{best.name}', the only one of {every} wirings with nothing forbidden"
    beside = "" if open_to == every else f" of {every} in all"
    return (
        f"'{best.name}', which yields most of the {open_to} wirings with nothing forbidden{beside}"
    )


def refuse_forbidden(site: Site, name: str) -> None:
    """Refuse to promise anything of a wiring that a limit forbids.

    Parameters
    ----------
    site : Site
        The site.
    name : str
        The wiring's name.

    Raises
    ------
    InputError
        If the site has no such wiring.
    NothingPermitted
        With the checks that forbid it.
    """
    found = check(site, named_wiring(site, name))
    if permission(found).word == FORBIDDEN:
        raise NothingPermitted(_forbidden(site, {name: found}))


def _forbidden(site: Site, found: dict[str, Findings]) -> tuple[Problem, ...]:
    return tuple(
        Problem(
            f"wiring '{name}' of {site.site.name}",
            permission(findings).sentence(),
            "a wiring that no limit forbids, before a yield is promised of it",
            remedy="`yieldkit check` tells values and limits, `yieldkit propose` finds wirings "
            "that are allowed.",
        )
        for name, findings in found.items()
    )
