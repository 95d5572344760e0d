"""Which ranked wirings are simulated in shadow, and what that does to their order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from yieldkit.config.site.site import Wiring
from yieldkit.study.ranking.alternatives import distinct_ranks
from yieldkit.study.ranking.propose import Ranking
from yieldkit.study.several_inverters.shared_out import SharedOut

OF_EACH_SPLIT = 20
"""Wirings simulated of each split of the planes' modules."""
_MOST_SPLITS = 5
_LOOKED_AT = 2_000


def ranks_in_shadow(ranking: Ranking | SharedOut) -> list[int]:
    """Return the ranks that are simulated in shadow: the best of each split of planes' modules.

    A split says how many modules of each plane are wired; those with the best wirings come first.

    Parameters
    ----------
    ranking : Ranking or SharedOut
        Ranked without obstacles.
    """
    taken: Counter[frozenset[tuple[str, int]]] = Counter()
    found = []
    for rank in distinct_ranks(ranking)[:_LOOKED_AT]:
        split = _split(ranking.wiring(rank))
        if split not in taken and len(taken) == _MOST_SPLITS:
            continue
        if taken[split] < OF_EACH_SPLIT:
            taken[split] += 1
            found.append(rank)
    return found


def _split(wiring: Wiring) -> frozenset[tuple[str, int]]:
    wired: Counter[str] = Counter()
    for tracker in wiring.trackers:
        for string in tracker.strings:
            for group in string.groups:
                wired[group.plane] += group.modules
    return frozenset(wired.items())


def order_in_minutes(ranks: Sequence[int], energies: Sequence[float]) -> str:
    """Return what the light's fluctuation does to the order of wirings ranked on the steps' means.

    Parameters
    ----------
    ranks : sequence of int
        Their ranks on the means, ascending.
    energies : sequence of float
        What each delivers minute by minute [kWh].
    """
    order = sorted(range(len(ranks)), key=lambda place: -energies[place])
    best = "the best" if len(ranks) == 1 else f"the best {len(ranks)}"
    said = (
        f"All wirings were ranked on the steps' means; {best} and the wirings of the file were "
        "reckoned minute by minute: their energies here are those."
    )
    if len(ranks) == 1:
        return said
    if order == list(range(len(ranks))):
        return f"{said} That leaves their order as it was."
    if order[0] != 0:
        number = ranks[order[0]] + 1
        return f"{said} That changes the order: the best was number {number} on the means."
    return f"{said} That changes the order behind the best."


def order_sentence(
    ranks: Sequence[int], energies: Sequence[float], *, shade: bool = True, snow: bool = False
) -> str:
    """Return what shadow or snow do to the order of wirings that were ranked without them.

    Parameters
    ----------
    ranks : sequence of int
        Their ranks without obstacles, ascending.
    energies : sequence of float
        What each delivers in shadow or snow [kWh].
    shade, snow : bool
        Whether it is obstacles, snow on some of the modules, or both.
    """
    without = " and ".join(word for word, own in (("obstacles", shade), ("snow", snow)) if own)
    within = " and ".join(word for word, own in (("shadow", shade), ("snow", snow)) if own)
    does = f"{within[0].upper()}{within[1:]} {'change' if shade and snow else 'changes'}"
    order = sorted(range(len(ranks)), key=lambda place: -energies[place])
    said = (
        f"Ranked without {without}; of these the best {len(ranks)} (at most {OF_EACH_SPLIT} with "
        "the same numbers of modules wired of each plane) and the wirings of the file were "
        f"simulated in {within}, where their modules lie: their energies are those."
    )
    if order == list(range(len(ranks))):
        leaves = does.replace("change", "leave")
        return f"{said} {leaves} their order as it was."
    if order[0] != 0:
        number = ranks[order[0]] + 1
        return f"{said} {does} the order: the best was number {number} without {without}."
    return f"{said} {does} the order behind the best."
