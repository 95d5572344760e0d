"""Where each string's modules lie on the roof, and the cable that follows from it."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from typing import NamedTuple

from yieldkit.config.models.planes import ModulePosition, Plane
from yieldkit.config.site.site import Site, WiredString, Wiring
from yieldkit.design.roof.runs import Roof, Run, path_run, runs


class StringRun(NamedTuple):
    """A string's modules on one plane.

    Parameters
    ----------
    mppt : str
        The input it hangs on.
    string : int
        Number of the string on that input, from 1.
    plane : str
        The plane.
    modules : tuple of int
        Its modules as positions in the plane's places, in the order of the cable.
    connected : bool
        Whether the modules lie side by side.
    skips : bool
        Whether the cable leaves out every other module and comes back over those.
    leads_reach : bool, optional
        Whether the modules' own leads bridge every step; None where they aren't known.
    conductor_m : float, optional
        Both conductors from the inverter to the run's two ends [m]; None where it isn't known,
        as for a string that crosses planes.
    """

    mppt: str
    string: int
    plane: str
    modules: tuple[int, ...]
    connected: bool
    skips: bool
    leads_reach: bool | None
    conductor_m: float | None


class _Piece(NamedTuple):
    mppt: str
    string: int
    modules: int
    alone: bool
    places: tuple[ModulePosition, ...]


def string_layout(site: Site, wiring: Wiring) -> tuple[StringRun, ...] | None:
    """Lay a wiring's strings on the roof as runs of neighbours, or as their places say.

    Parameters
    ----------
    site : Site
        Planes with their modules' places.
    wiring : Wiring
        The wiring.

    Returns
    -------
    tuple of StringRun, or None
        None where a plane in use has no places: the layout is then NOT CHECKED.
    """
    pieces = _pieces(wiring)
    planes = {plane.name: plane for plane in site.planes}
    if any(not planes[name].places for name in pieces):
        return None
    found = []
    for name, own in pieces.items():
        roof, is_metric = _roof(site, planes[name])
        cut = _cut(planes[name], roof, own)
        found += [
            _string_run(planes[name], roof, piece, run, is_metric)
            for piece, run in zip(own, cut, strict=True)
        ]
    order = [tracker.input_name for tracker in wiring.trackers]
    return tuple(sorted(found, key=lambda run: (order.index(run.mppt), run.string)))


def laid_wiring(wiring: Wiring, layout: Sequence[StringRun]) -> Wiring:
    """Return a wiring whose cables have the lengths that its layout needs.

    Parameters
    ----------
    wiring : Wiring
        The wiring.
    layout : sequence of StringRun
        From `string_layout`.

    Returns
    -------
    Wiring
        A string whose way isn't known keeps its length, and one without a cable has none.
    """
    known = {
        (run.mppt, run.string): run.conductor_m for run in layout if run.conductor_m is not None
    }

    def laid(name: str, number: int, string: WiredString) -> WiredString:
        if string.cable is None or (name, number) not in known:
            return string
        length = round(known[name, number] / 2.0, 1)
        return string.model_copy(
            update={"cable": string.cable.model_copy(update={"length_m": length})}
        )

    trackers = tuple(
        tracker.model_copy(
            update={
                "strings": tuple(
                    laid(tracker.input_name, number, string)
                    for number, string in enumerate(tracker.strings, start=1)
                )
            }
        )
        for tracker in wiring.trackers
    )
    return wiring.model_copy(update={"trackers": trackers})


def _pieces(wiring: Wiring) -> dict[str, list[_Piece]]:
    """Return what each plane gives to the strings."""
    found: dict[str, list[_Piece]] = {}
    for tracker in wiring.trackers:
        for number, string in enumerate(tracker.strings, start=1):
            alone = len(string.groups) == 1
            for group in string.groups:
                piece = _Piece(tracker.input_name, number, group.modules, alone, group.places)
                found.setdefault(group.plane, []).append(piece)
    return found


def _cut(plane: Plane, roof: Roof, pieces: Sequence[_Piece]) -> tuple[Run, ...]:
    """Return each piece's modules: those of its places, or neighbours."""
    if not all(piece.places for piece in pieces):
        return runs(roof, [piece.modules for piece in pieces])
    number = {place: at for at, place in enumerate(plane.places)}
    return tuple(path_run(roof, tuple(number[place] for place in piece.places)) for piece in pieces)


def placed_wiring(site: Site, wiring: Wiring, planes: Collection[str]) -> Wiring:
    """Return a wiring of which every module on some planes has its place.

    Parameters
    ----------
    site : Site
        Planes with their modules' places.
    wiring : Wiring
        The wiring.
    planes : collection of str
        Names of planes whose modules have places.

    Returns
    -------
    Wiring
        Groups without places have those that `string_layout` gives them.
    """
    known = {plane.name: plane for plane in site.planes}
    laid: dict[str, Iterator[tuple[ModulePosition, ...]]] = {}
    for name, own in _pieces(wiring).items():
        if name in planes and not all(piece.places for piece in own):
            spots = known[name].places
            cut = runs(_roof(site, known[name])[0], [piece.modules for piece in own])
            laid[name] = iter([tuple(spots[at] for at in run.path) for run in cut])
    if not laid:
        return wiring
    trackers = []
    for tracker in wiring.trackers:
        strings = []
        for string in tracker.strings:
            groups = tuple(
                group.model_copy(update={"places": next(laid[group.plane])})
                if group.plane in laid
                else group
                for group in string.groups
            )
            strings.append(string.model_copy(update={"groups": groups}))
        trackers.append(tracker.model_copy(update={"strings": tuple(strings)}))
    return wiring.model_copy(update={"trackers": tuple(trackers)})


def _roof(site: Site, plane: Plane) -> tuple[Roof, bool]:
    """Return a plane as rows and columns, and whether its lengths are metres."""
    module = next(each for each in site.module_types if each.name == plane.module_type)
    cells = tuple((place.row, place.column) for place in plane.places)
    out = plane.cable_exit
    way_out = None if out is None else (out.row, out.column)
    if module.width_m is None or module.length_m is None or plane.layout is None:
        return Roof(cells, (1.0, 1.0), way_out), False
    upright = plane.layout == "portrait"
    sides = (module.width_m, module.length_m) if upright else (module.length_m, module.width_m)
    reach = None if module.lead_length_m is None else 2.0 * module.lead_length_m
    return Roof(cells, sides, way_out, reach), True


def _string_run(plane: Plane, roof: Roof, piece: _Piece, run: Run, is_metric: bool) -> StringRun:
    out = plane.cable_exit
    known = is_metric and piece.alone and out is not None
    return StringRun(
        piece.mppt,
        piece.string,
        plane.name,
        run.path,
        run.connected,
        run.skips,
        None if roof.reach is None else run.longest_step <= roof.reach,
        run.ends + 2.0 * out.onward_m if known and out is not None else None,
    )
