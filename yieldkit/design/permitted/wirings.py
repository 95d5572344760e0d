"""Every wiring of given planes on given inputs that no limit forbids, without duplicates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from yieldkit.base.errors import InputError, NothingPermitted, Problem, refuse
from yieldkit.base.progress import Progress, counted, silent
from yieldkit.config.models.inverters import MpptInput
from yieldkit.config.models.planes import Plane
from yieldkit.config.site.site import Site, TrackerStrings, Wiring
from yieldkit.design.checks.limits import allowed_lengths, site_facts
from yieldkit.design.permitted.arrangements import (
    Arrangement,
    Candidate,
    InputClass,
    forbidding_check,
    input_classes,
    plane_cables,
    wired_string,
)
from yieldkit.design.permitted.constraints import Constraints, refuse_contradictions
from yieldkit.design.permitted.search import candidates

_PROGRESS_EVERY_WIRINGS = 500
MOST = 200_000
"""Most wirings that are listed when no other bound is asked for."""


@dataclass(frozen=True)
class Possible:
    """What is possible on a site, and how to write it as a wiring.

    Parameters
    ----------
    site : Site
        The site.
    constraints : Constraints
        What was asked.
    classes : tuple of InputClass
        Inputs by rating with the arrangements that nothing forbids.
    candidates : tuple of Candidate
        The wirings.
    """

    site: Site
    constraints: Constraints
    classes: tuple[InputClass, ...]
    candidates: tuple[Candidate, ...]

    def placed(self, candidate: Candidate) -> list[tuple[MpptInput, Arrangement]]:
        """Return the inputs a candidate uses with what hangs on each, in the classes' order."""
        return [
            (mppt, own.arrangements[place])
            for own, chosen in zip(self.classes, candidate, strict=True)
            for mppt, place in zip(own.mppts, reversed(chosen), strict=False)
        ]

    def wiring(self, candidate: Candidate, name: str) -> Wiring:
        """Return a candidate as a wiring of the site file."""
        cables = plane_cables(self.site)
        trackers = {each.mppt: each for each in self.constraints.fixed}
        for mppt, arrangement in self.placed(candidate):
            strings = tuple(wired_string(self.site, piece, cables) for piece in arrangement.pieces)
            trackers[mppt.name] = TrackerStrings(mppt=mppt.name, strings=strings)
        order = [mppt.name for mppt in self.site.single_inverter.mppts if mppt.name in trackers]
        return Wiring(name=name, trackers=tuple(trackers[each] for each in order))

    def sentences(self) -> list[str]:
        """Return sentences on the lengths allowed, and on what was dropped by which check."""
        return length_sentences(self.site, self.classes)


def length_sentences(site: Site, classes: Sequence[InputClass]) -> list[str]:
    """Return sentences on the lengths allowed, and on what was dropped by which check.

    Parameters
    ----------
    site : Site
        A site of one inverter.
    classes : sequence of InputClass
        Its inputs by rating.
    """
    said = []
    for own in classes:
        where = ", ".join(mppt.name for mppt in own.mppts)
        spans = ", ".join(_span_text(plane, *own.lengths[plane.name]) for plane in site.planes)
        said.append(
            f"Strings on {where}: {spans}; fewer modules stay below the start-up voltage, more "
            "exceed the cold open-circuit voltage, or it was asked so."
        )
        said += [
            f"{count:,} arrangements on {where} dropped: {reason}."
            for reason, count in sorted(own.dropped.items(), key=lambda item: -item[1])
        ]
    if allowed_lengths(site)["most_by_cold_voltage"].isna().any():
        said.append(
            "The voltage in the cold is NOT CHECKED, for the lowest expected ambient or a Voc "
            "coefficient is not stated: these strings stay below the limits at 25 degC, and "
            "colder modules may forbid the longer ones."
        )
    return said


def _span_text(plane: Plane, fewest: int, most: int) -> str:
    """Return which string lengths a plane offers."""
    most = min(most, plane.modules)
    if fewest > most:
        return f"none of {plane.name}"
    return f"{fewest} to {most} of {plane.name}" if fewest < most else f"{most} of {plane.name}"


def possible_wirings(
    site: Site,
    constraints: Constraints | None = None,
    most: int = MOST,
    progress: Progress | None = None,
) -> Possible:
    """Return every wiring of a site that no limit forbids.

    Parameters
    ----------
    site : Site
        Planes with module counts, module types, inverter and rule profile.
    constraints : Constraints, optional
        What a person asks of the wirings.
    most : int
        Bound on their number.
    progress : callable, optional
        Called with a word, how many were found or tried, and 0; a true answer ends the search.

    Returns
    -------
    Possible
        Wirings without duplicates: inputs of one rating are interchangeable, and so are planes
        that agree in everything but their name.

    Raises
    ------
    InputError
        For constraints that contradict one another, name what isn't there or leave nothing; for
        more wirings than the bound.
    NothingPermitted
        If limits forbid every wiring, with the smallest change that opens one.
    KeyboardInterrupt
        If the search was ended.
    """
    asked = constraints or Constraints()
    if most < 1:
        refuse("bound on the wirings", f"{most}", "at least 1")
    refuse_contradictions(site, asked)
    refuse_forbidden(site, asked)
    tell = progress or silent
    classes = input_classes(site, asked, tell)
    found = []
    every = candidates(site, asked, classes)
    for candidate in counted(every, tell, "wirings found", _PROGRESS_EVERY_WIRINGS):
        found.append(candidate)
        if len(found) > most:
            raise InputError(
                (
                    Problem(
                        "wirings",
                        f"more than {most:,} with nothing forbidden",
                        f"at most {most:,}",
                        remedy="Ask for fewer strings on an input, fewer modules left out, a "
                        "narrower string length, or a higher bound.",
                    ),
                )
            )
    if not found:
        raise _nothing_possible(site, asked, classes)
    return Possible(site, asked, classes, tuple(found))


def refuse_forbidden(site: Site, constraints: Constraints) -> None:
    """Refuse strings that are laid already and not permitted: no wiring with them would be.

    Parameters
    ----------
    site : Site
        A site of one inverter.
    constraints : Constraints
        With what is wired already.

    Raises
    ------
    NothingPermitted
        With every such input.
    """
    facts = site_facts(site)
    mppts = {mppt.name: mppt for mppt in site.single_inverter.mppts}
    problems = []
    for tracker in constraints.fixed:
        reason, _amperes = forbidding_check(site, mppts[tracker.mppt], tracker.strings, facts)
        if reason:
            problems.append(
                Problem(
                    f"fixed input '{tracker.mppt}'",
                    f"strings that are not permitted: {reason}",
                    "strings that pass every check",
                    remedy="Run the check on that wiring, or leave the input to be proposed.",
                )
            )
    if problems:
        raise NothingPermitted(problems)


def opened_by(modules: int) -> str:
    """Return what to do where a number of modules left out would leave a wiring."""
    what = "1 module" if modules == 1 else f"{modules} modules"
    return f"Allow {what} to stay unwired: then there is one."


def _nothing_possible(
    site: Site, constraints: Constraints, classes: tuple[InputClass, ...]
) -> InputError:
    """Say which limit is in the way, and the smallest change that would open it.

    Where there would be a wiring but for the constraints, the question is at fault and not a limit.
    """
    drawn = sum(plane.modules for plane in site.planes)
    reasons = sorted(
        ((count, reason) for own in classes for reason, count in own.dropped.items()), reverse=True
    )
    cause = (
        f"Most arrangements fail: {reasons[0][1]}"
        if reasons
        else (
            "No string length fits every limit"
            if not any(own.arrangements for own in classes)
            else ""
        )
    )
    for more in range(constraints.leave_at_most + 1, drawn):
        looser = constraints._replace(leave_at_most=more)
        if next(candidates(site, looser, classes), None) is not None:
            remedy = opened_by(more)
            break
    else:
        remedy = "No number of modules left out opens it: widen lengths, strings or inputs."
    plain = Constraints(leave_at_most=constraints.leave_at_most, crossing=constraints.crossing)
    free = constraints == plain or not any(candidates(site, plain, input_classes(site, plain)))
    problem = Problem(
        "wirings",
        f"none that is permitted with at most {constraints.leave_at_most} of {drawn} modules "
        "left out",
        "at least one",
        cause=cause,
        remedy=remedy,
    )
    return NothingPermitted((problem,)) if free else InputError((problem,))
