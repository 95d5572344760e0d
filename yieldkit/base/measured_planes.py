"""How columns of weather are called that were measured on a plane: the quantity of the plane."""

from __future__ import annotations

POA, MODULE, CELL = "poa_global", "temp_module", "temp_cell"
PLANE_QUANTITIES = (POA, MODULE, CELL)
"""What may be measured plane by plane: light, and temperature of modules or of their cells."""
_OF = " of "


def measured_name(quantity: str, plane: str) -> str:
    """Return the name of a column that was measured on a plane.

    Parameters
    ----------
    quantity : str
        One of `PLANE_QUANTITIES`.
    plane : str
        The plane's name.
    """
    return f"{quantity}{_OF}{plane}"


def measured_part(name: str) -> tuple[str, str] | None:
    """Return quantity and plane of a column's name, None where it is no plane's.

    Parameters
    ----------
    name : str
        The column's name.
    """
    quantity, of, plane = name.partition(_OF)
    return (quantity, plane) if of and quantity in PLANE_QUANTITIES else None


def plain_quantity(name: str) -> str:
    """Return the quantity of any column: of a plane's without the plane."""
    found = measured_part(name)
    return name if found is None else found[0]
