"""What saved results were made from: kept beside them, and compared when they are loaded."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

from yieldkit.base.errors import refuse
from yieldkit.config.site.files import site_from_mapping
from yieldkit.config.site.site import Site
from yieldkit.study.simulation.period import Period
from yieldkit.study.simulation.provenance import other_origin, site_hash, versions


class Origin(NamedTuple):
    """What results were made from, as it is kept in a file.

    Parameters
    ----------
    site : Site
        The site.
    period : Period
        What time its weather covers.
    remarks, assumptions : tuple of str
        What must be said of the weather, and what the results rest on.
    """

    site: Site
    period: Period
    remarks: tuple[str, ...]
    assumptions: tuple[str, ...]

    def content(self) -> dict[str, Any]:
        """Return it as plain values for JSON."""
        return {
            "site": self.site.model_dump(mode="json"),
            "site_folder": self.site.folder,
            "period": self.period._asdict(),
            "remarks": self.remarks,
            "assumptions": self.assumptions,
            "versions": versions(),
        }


def origin_from(content: Mapping[str, Any], path: Path) -> Origin:
    """Return what results were made from out of the plain values of a file.

    Parameters
    ----------
    content : mapping
        From `Origin.content`.
    path : Path
        The file, for errors.

    Raises
    ------
    InputError
        If another version wrote it.
    """
    refuse_other(path, content, {})
    period = content["period"]
    return Origin(
        site_from_mapping(content["site"], str(path), content["site_folder"]),
        Period(
            **{
                **period,
                "by_month": tuple(period["by_month"]),
                "month_times": tuple(period.get("month_times", ())),
            }
        ),
        tuple(content["remarks"]),
        tuple(content["assumptions"]),
    )


def refuse_other(path: Path, attrs: Mapping[str, Any], wanted: Mapping[str, Any]) -> None:
    """Refuse what was made from something else than is asked, or by another version.

    Parameters
    ----------
    path : Path
        The file.
    attrs : mapping
        What it says that it was made from.
    wanted : mapping
        What it has to say.

    Raises
    ------
    InputError
        With what differs: version, site, weather, wiring or set of constraints.
    """
    other = other_origin(attrs, {"versions": versions(), **wanted})
    if other:
        refuse(
            str(path),
            f"results of another {other}",
            "results of what is asked, made by this version",
            remedy="Make them again.",
        )


def refuse_other_site(path: Path, attrs: Mapping[str, Any], site: Site | None) -> None:
    """Refuse what was made from another site than is asked, or by another version.

    Parameters
    ----------
    path : Path
        The file.
    attrs : mapping
        What it says that it was made from.
    site : Site or None
        The site it has to be of; any if None.

    Raises
    ------
    InputError
        With what differs: version or site.
    """
    refuse_other(path, attrs, {} if site is None else {"site_sha256": site_hash(site)})
