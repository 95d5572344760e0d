"""What stands in a run's row: the names and units of its columns, and how a failure is told."""

from __future__ import annotations

from collections.abc import Mapping

Value = str | float | int | None
Row = dict[str, Value]

UNITS = {
    "energy_kwh": "kWh",
    "kwp": "kW",
    "kwh_per_kwp": "kWh/kW",
    "clipped_hours": "h",
    "derated_hours": "h",
    "load_kwh": "kWh",
    "self_use_kwh": "kWh",
    "export_kwh": "kWh",
    "import_kwh": "kWh",
    "budget_closure": "1",
    "data_coverage": "1",
    "period_days": "d",
    "years_averaged": "1",
    "is_year": "1",
    "unsolved_steps": "1",
    "nameplate_kwh": "kWh",
}
"""Numbers of every run that is no failure, and their units."""
TEXTS = ("period", "site_sha256", "weather_sha256", "weather_title", "time_zone")
MONTH, LOSS, INPUT = "month: ", "loss: ", "input: "
"""How the names of columns begin that hold energies [kWh] by month, by step and by input."""
MADE = "made: "
"""How the names of columns begin that tell what a run is made of."""


def unit_of(column: str) -> str:
    """Return a column's unit; empty for texts and what is no result."""
    if column.startswith((MONTH, LOSS, INPUT)):
        return "kWh"
    return UNITS.get(column, "")


def failed_row(message: str) -> Row:
    """Return the row of a run that could not be computed: no numbers at all, and why."""
    return {"status": "failed", "message": message}


def with_status(row: Mapping[str, Value]) -> Row:
    """Return the row of a run that was computed."""
    return {"status": "ok", "message": "", **row}
