"""One run simulated, with everything that other runs have computed already.

Whatever is kept is found by all that it depends on: a weather file by its bytes and how it is
read, the sky by weather and place, a plane by its sky and all that is said of it, a circuit by
the planes of its strings. Nothing is found by a position, a name or a path.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Hashable
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

import xarray as xr

from yieldkit.base.progress import silent
from yieldkit.config.models.planes import Plane
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.equipment.modules import fit_module_type
from yieldkit.design.roof.scene import PlaneScene, module_scenes, slant_height_m
from yieldkit.study.batch.kept_work import MOST_BYTES, KeptWork, OfOneKind
from yieldkit.study.batch.names import together
from yieldkit.study.simulation.ac_side import alternating_side
from yieldkit.study.simulation.dc_side import direct_sides
from yieldkit.study.simulation.kept import fingerprint
from yieldkit.study.simulation.minute_source import minutes_content
from yieldkit.study.simulation.prepare import (
    Prepared,
    assembled,
    inverter_conversions,
    prepare,
    remarks_on,
    within_planes,
)
from yieldkit.study.simulation.simulate import Simulated, booked, solved_wirings
from yieldkit.study.simulation.station import sun_place
from yieldkit.study.simulation.trackers import Solutions
from yieldkit.study.simulation.under_sky import LitPlane, Sky, lit_plane, sky_over
from yieldkit.study.simulation.weather import site_weather, source_of, weather_files

T = TypeVar("T")

_NOT_SEEN_BY_CELLS = {"name", "modules", "positions", "drawing", "cable_exit", "layout"}
"""What a plane's light and cells don't depend on. All else that a plane has, and may have one day,
counts."""


class SharedWork:
    """Simulates runs one after the other; what they have in common is computed once.

    Parameters
    ----------
    most_bytes : int
        How much is kept [byte].
    """

    def __init__(self, most_bytes: int = MOST_BYTES):
        self.kept = KeptWork(most_bytes)

    def simulated(self, site: Site, wiring: Wiring) -> Simulated:
        """Simulate a wiring of a site: the same, to the last bit, as `simulate` gives.

        Parameters
        ----------
        site : Site
            The site.
        wiring : Wiring
            One of its wirings.

        Raises
        ------
        InputError
            As `simulate`.
        """
        weather, read = self.weather(site)
        prepared, planes, sky = self._prepared(site, weather, read)
        solutions = Solutions(
            trackers=OfOneKind(self.kept, "tracker"),
            strings=OfOneKind(self.kept, "string"),
            groups=OfOneKind(self.kept, "cell groups"),
            planes=planes,
        )

        def keep(content: Callable[[], Hashable], make: Callable[[], T]) -> T:
            return self.kept((sky, content()), make)

        directs = direct_sides(prepared, wiring, solutions)
        present = prepared.present
        if any((state.unsolved & present).any() for own in directs for state in own.states):
            return _leaving_steps_out(site, wiring, weather)
        alternating = alternating_side(prepared, directs, keep=keep)
        if any((own.unsolved.any(axis=1) & present).any() for own in alternating.points):
            return _leaving_steps_out(site, wiring, weather)
        return booked(prepared, wiring, directs, alternating)

    def weather(self, site: Site) -> tuple[xr.Dataset, str]:
        """Return a site's weather, and what tells it: the file's bytes and how it is read.

        Parameters
        ----------
        site : Site
            The site.
        """
        said = site.weather
        paths = weather_files(said, site.folder)
        place = site.site
        source = source_of(site)
        read = fingerprint(
            together([_bytes_of(path) for path in paths]),
            *(path.name for path in paths),
            said.format,
            repr(source),
            said.moved,
            place.time_zone,
            site.models.decomposition,
        )
        return self.kept(("weather", read), lambda: site_weather(site)), read

    def _prepared(
        self, site: Site, weather: xr.Dataset, read: str
    ) -> tuple[Prepared, tuple[str, ...], str]:
        """Return what the site's wirings share, what tells each plane, and what tells the sky."""
        place = sun_place(site, weather)
        told = fingerprint(read, place[:3])
        sky = self.kept(("sky", told), lambda: sky_over(place, weather))
        scenes = module_scenes(site)
        contents = tuple(
            _plane_content(site, plane, told, scene)
            for plane, scene in zip(site.planes, scenes, strict=True)
        )
        names = tuple(plane.name for plane in site.planes)

        def lit_planes() -> list[LitPlane]:
            return [
                self._lit(site, plane, content, sky, scene)
                for plane, content, scene in zip(site.planes, contents, scenes, strict=True)
            ]

        def together() -> Prepared:
            return assembled(site, place, sky, lit_planes())

        shared = self.kept(("planes", contents, names), together)
        within = None
        if site.weather.within_hour is not None:
            asked = fingerprint(site.weather.within_hour, minutes_content(site))
            within = self.kept(
                ("within", contents, names, asked),
                lambda: within_planes(site, place, sky, lit_planes()),
            )
        inverters = fingerprint(site.inverter, *site.inverter_types, *site.inverters)
        own = replace(
            shared,
            site=site,
            remarks=remarks_on(site, place, sky),
            distance_km=place.distance_km,
            conversions=self.kept(("conversion", inverters), lambda: inverter_conversions(site)),
            within=within,
        )
        return own, contents, told

    def _lit(
        self, site: Site, plane: Plane, content: str, sky: Sky, scene: PlaneScene | None
    ) -> LitPlane:
        module = next(each for each in site.module_types if each.name == plane.module_type)
        fit = self.kept(("diode", fingerprint(module)), lambda: fit_module_type(module))
        return self.kept(("plane", content), lambda: lit_plane(site, plane, fit, sky, scene))


def _bytes_of(path: Path) -> str:
    """Return the hash of a file's bytes."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _plane_content(site: Site, plane: Plane, sky: str, scene: PlaneScene | None) -> str:
    """Return all that a plane's cells depend on; in shadow also all that may throw it."""
    module = next(each for each in site.module_types if each.name == plane.module_type)
    seen = plane.model_dump_json(exclude=_NOT_SEEN_BY_CELLS)
    # What was measured on a plane is found by its name.
    measured = plane.name if plane.name in site.weather.measured_planes else ""
    own = (sky, site.site.albedo, site.models, seen, measured, module, *site.horizon_of(plane))
    snow: tuple[object, ...] = ()
    if site.site.snow is not None:
        snow = (site.site.snow, slant_height_m(site, plane))
    if scene is None:
        return fingerprint(*own, *snow)
    return fingerprint(*own, *snow, *site.obstacles, *site.planes, *site.module_types)


def _leaving_steps_out(site: Site, wiring: Wiring, weather: xr.Dataset) -> Simulated:
    """Simulate a wiring some of whose steps have no solution, as `simulate` does."""
    _, (only,) = solved_wirings(prepare(site, weather), (wiring,), silent)
    return only
