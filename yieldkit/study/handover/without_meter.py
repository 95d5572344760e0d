"""What is read without a meter: how planes lie, a second light sensor, the clock; under slips."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.config.site.site import Site
from yieldkit.study.handover.beside_expected import NOT_JUDGED, OUT, WITHIN, Judged
from yieldkit.study.handover.expected import BAND
from yieldkit.study.handover.form import plane_subject
from yieldkit.study.handover.joint_model import JointModel
from yieldkit.study.handover.judged_model import JudgedModel
from yieldkit.study.handover.reading import Readings
from yieldkit.study.handover.reference_errors import SENSOR_LIGHT, ReferenceError
from yieldkit.study.handover.sheet_readings import stated
from yieldkit.study.handover.slips import Slip
from yieldkit.study.handover.string_model import COMMON, spreads_of

TILT, AZIMUTH, SECOND_SENSOR, CLOCK = "tilt", "azimuth", "poa_second", "clock_ahead"
OF_PLANES = (TILT, AZIMUTH)
"""What is read of a plane whatever the instruments are that strings were read with."""
ERRORS: dict[str, ReferenceError] = {
    TILT: ReferenceError(
        1.5,
        "deg",
        "tilt by an inclinometer or a telephone laid on a module",
        "common practice; Allmendinger et al. (2017), Journal of Structural Geology 102, 98-112, "
        "find telephones fit for such angles (abstract read), the figure is ours",
    ),
    AZIMUTH: ReferenceError(
        8.0,
        "deg",
        "azimuth by a compass on a roof, where metal turns it",
        "common practice; the same paper asks for distance from metal (abstract read), the figure "
        "is ours",
    ),
    SECOND_SENSOR: ReferenceError(
        3.0,
        "%",
        "the second light sensor's gain",
        "as the first sensor's; data sheet of a handheld silicon sensor: 3 % (read)",
    ),
    CLOCK: ReferenceError(
        5.0, "min", "a clock that is right for readings of light", "common practice, no source"
    ),
}
"""How far each may lie from the truth although all is as drawn."""


class Check(NamedTuple):
    """One of what is read without a meter.

    Parameters
    ----------
    quantity : str
        TILT, AZIMUTH, SECOND_SENSOR or CLOCK.
    plane : int
        Position of its plane; -1 for the clock.
    value : float
        [deg], [W/m2] or [min].
    first : float
        What the first light sensor reads beside a second one [W/m2]; nan for all others.
    """

    quantity: str
    plane: int
    value: float
    first: float = math.nan


@dataclass(frozen=True)
class ChecksModel:
    """What is read without a meter as functions of the first light sensor's gain, for all slips.

    Parameters
    ----------
    site : Site
        The site.
    slips : tuple of Slip
        The slips.
    checks : tuple of Check
        What was read.
    sensor : float
        Standard deviation of the first light sensor's gain [%].
    """

    site: Site
    slips: tuple[Slip, ...]
    checks: tuple[Check, ...]
    sensor: float

    @property
    def unknowns(self) -> int:
        """How many unknowns there are: the first sensor's gain."""
        return 1

    @property
    def value(self) -> FloatArray:
        """What was read (check,)."""
        return np.array([own.value for own in self.checks])

    def only(self, at: IntArray) -> ChecksModel:
        """Return the same for some of the slips, by their positions."""
        return replace(self, slips=tuple(self.slips[own] for own in at))

    def at(self, unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return what is read, and how it follows the first sensor's gain.

        Parameters
        ----------
        unknowns : ndarray
            In standard deviations (slip, 1).

        Returns
        -------
        tuple of ndarray
            Values [deg], [W/m2] or [min] (slip, check) and slopes (slip, check, 1).
        """
        values = np.array(
            [[self._expected(slip, own) for own in self.checks] for slip in self.slips]
        )
        lit = np.array([own.quantity == SECOND_SENSOR for own in self.checks])
        gain = self.sensor / 100.0
        values = np.where(lit, values * np.exp(gain * unknowns), values)
        return values, np.where(lit, gain * values, 0.0)[..., None]

    def noise_under(self) -> FloatArray:
        """Return the standard deviation of each by itself (slip, check).

        A second sensor is off alike wherever it is held: several of its readings together say no
        more than one.
        """
        held = math.sqrt(sum(own.quantity == SECOND_SENSOR for own in self.checks))
        each = [
            ERRORS[own.quantity].spread
            * (held * own.first / 100.0 if own.quantity == SECOND_SENSOR else 1.0)
            for own in self.checks
        ]
        return np.tile(each, (len(self.slips), 1))

    def _expected(self, slip: Slip, own: Check) -> float:
        """Return what a check reads under a slip, the first sensor's gain as it is expected."""
        if own.quantity == CLOCK:
            return slip.clock_min
        if own.quantity == SECOND_SENSOR:
            return own.first / slip.sensor
        lies, turned = self.site.planes[slip.drawn_as[own.plane]], slip.turned[own.plane]
        if own.quantity == TILT:
            return min(max(lies.tilt_deg + turned[1], 0.0), 90.0)
        # North is 0 and 360: the way round that is nearer to what was read.
        away = (lies.azimuth_deg + turned[0] - own.value + 180.0) % 360.0 - 180.0
        return own.value + away


def checks_of(site: Site, readings: Readings) -> tuple[Check, ...]:
    """Return what a sheet says without a meter, as far as it is judged.

    Parameters
    ----------
    site : Site
        The site.
    readings : Readings
        The sheet.
    """
    planes = {plane_subject(plane.name): at for at, plane in enumerate(site.planes)}
    return tuple(
        Check(each.quantity, planes.get(each.subject, -1), each.value, each.poa_global)
        for each in readings.readings
        if each.quantity in ERRORS and not each.not_judged
    )


def with_checks(model: JudgedModel, site: Site, readings: Readings) -> JudgedModel:
    """Return readings by a meter together with what was read without one.

    Parameters
    ----------
    model : JudgedModel
        The meter's readings, their unknowns beginning with `COMMON`.
    site : Site
        The site.
    readings : Readings
        The sheet.
    """
    checks = checks_of(site, readings)
    return _beside(model, site, checks, stated(readings), COMMON.index(SENSOR_LIGHT))


def with_planes(model: JudgedModel, site: Site, readings: Readings | None) -> JudgedModel:
    """Return logs together with how planes were found to lie.

    The sheet's clock and its light sensors say nothing of a log's.

    Parameters
    ----------
    model : JudgedModel
        The logs, with a meter's readings beside them or not.
    site : Site
        The site.
    readings : Readings or None
        The sheet.
    """
    found = () if readings is None else checks_of(site, readings)
    return _beside(model, site, [own for own in found if own.quantity in OF_PLANES], {}, 0)


def _beside(
    model: JudgedModel,
    site: Site,
    checks: Sequence[Check],
    spreads: dict[str, float],
    sensor_at: int,
) -> JudgedModel:
    if not checks:
        return model
    own = ChecksModel(site, model.slips, tuple(checks), spreads_of(spreads)[SENSOR_LIGHT])
    places = np.arange(model.unknowns), np.array([sensor_at])
    return JointModel(model.slips, (model, own), places)


def checks_beside(site: Site, readings: Readings) -> tuple[Judged, ...]:
    """Return what was read without a meter beside what is expected of the drawing.

    Parameters
    ----------
    site : Site
        The site.
    readings : Readings
        The sheet.
    """
    sensor = spreads_of(stated(readings))[SENSOR_LIGHT]
    planes = {plane_subject(plane.name): plane for plane in site.planes}
    rows = []
    for each in readings.readings:
        if each.quantity not in ERRORS:
            continue
        if each.not_judged:
            nothing = math.nan
            rows.append(Judged(each, nothing, nothing, nothing, NOT_JUDGED, each.not_judged))
            continue
        spread, value, expected = ERRORS[each.quantity].spread, each.value, 0.0
        if each.quantity == SECOND_SENSOR:
            expected = each.poa_global
            spread = math.hypot(spread, sensor) / 100.0 * expected
        elif each.quantity == TILT:
            expected = planes[each.subject].tilt_deg
        elif each.quantity == AZIMUTH:
            expected = planes[each.subject].azimuth_deg
            value = expected + (value - expected + 180.0) % 360.0 - 180.0
        off = BAND * spread
        state = WITHIN if abs(value - expected) <= off else OUT
        rows.append(Judged(each, expected, expected - off, expected + off, state))
    return tuple(rows)


def planes_told(rows: Sequence[Judged]) -> tuple[str, ...]:
    """Return which planes lie otherwise than the site file says, in sentences.

    Parameters
    ----------
    rows : sequence of Judged
        From `checks_beside`.
    """
    return tuple(
        f"The {own.reading.quantity} of {own.reading.subject} was read as {own.reading.value:g} "
        f"degrees, drawn are {own.expected:g}: more than such a reading is usually off. Read it "
        "again; if it stays, correct the site file, for all that is expected rests on it."
        for own in rows
        if own.reading.quantity in OF_PLANES and own.state == OUT
    )
