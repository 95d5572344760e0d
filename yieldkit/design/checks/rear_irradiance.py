"""Light from behind: what bifacial modules add to the short-circuit current."""

from __future__ import annotations

from yieldkit.config.models.modules import DatasheetModule, ListedModule
from yieldkit.config.models.planes import Plane
from yieldkit.design.checks.rules import Rule, inspection_rule

NAMEPLATE = "bifacial_nameplate"
STRESS = "bifacial_stress"


def rear_rule(item: str) -> Rule:
    """Return an irradiance from behind [W/m2]: the nameplate's, or that of the stress tests.

    Raises
    ------
    LookupError
        If the data has no such row.
    """
    found = inspection_rule(item)
    if found is None:
        raise LookupError(item)
    return found


def rear_factor(
    module: DatasheetModule | ListedModule, plane: Plane, rear_w_m2: float | None = None
) -> float:
    """Return the short-circuit current over that of the front alone at STC [1].

    Parameters
    ----------
    module : DatasheetModule or ListedModule
        With its bifaciality, or its short-circuit current with the nameplate's light from behind.
    plane : Plane
        With its rear gain, below which the result never falls.
    rear_w_m2 : float, optional
        Irradiance from behind [W/m2]; the plane's own, or the nameplate's, if left out.

    References
    ----------
    1 + bifaciality x G_rear / 1000 W/m2: bifacial nameplate irradiance (BNPI) of IEC 61215-1:2021,
    clause from memory. Under IEC 62548-1:2023 it stands for the correction factor of K_I.
    """
    from_behind = rear_irradiance(plane) if rear_w_m2 is None else rear_w_m2
    gain = per_rear_w_m2(module) * from_behind
    return max(1.0 + gain, 1.0 + plane.rear_gain_percent / 100.0)


def rear_irradiance(plane: Plane) -> float:
    """Return a plane's irradiance from behind for the checks of currents [W/m2]."""
    stated = plane.rear_irradiance_w_m2
    return rear_rule(NAMEPLATE).value if stated is None else stated


def per_rear_w_m2(module: DatasheetModule | ListedModule) -> float:
    """Return the share of Isc that each W/m2 from behind adds [m2/W]; 0 for one face."""
    sheet = module.i_sc_bnpi_a if isinstance(module, DatasheetModule) else None
    if sheet is not None and isinstance(module, DatasheetModule):
        return (sheet / module.i_sc_a - 1.0) / rear_rule(NAMEPLATE).value
    return (module.bifaciality or 0.0) / 1000.0


def rear_note(groups: tuple[tuple[Plane, DatasheetModule | ListedModule], ...]) -> str:
    """Return in words what light from behind counts; nothing where no module is bifacial."""
    said = {
        f"{rear_irradiance(plane):g} W/m2 from behind"
        + (" (assumed)" if plane.rear_irradiance_w_m2 is None else "")
        + f", {rear_factor(module, plane):.3f} x Isc of the front"
        for plane, module in groups
        if per_rear_w_m2(module) > 0.0
    }
    return "; ".join(sorted(said))
