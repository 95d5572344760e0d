"""The connection point: common lead, meter, load, network and its voltage."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from yieldkit.config.models.base import (
    CrossSection,
    FileName,
    Frozen,
    NotNegative,
    Positive,
    Text,
)
from yieldkit.config.models.conductors import AcLead


class NetworkVoltage(Frozen):
    """Voltage of the network at the connection point without this plant, phase to neutral."""

    kind: Literal["constant", "modelled", "series"] = "constant"
    """One value, a seeded model, or a measured series."""
    voltage_v: Positive = 230.0
    """Constant value, or the base of the model [V]."""
    daily_swing_v: NotNegative = 0.0
    """Model: amplitude of the daily shape, highest at 4 h [V]."""
    load_term_v: NotNegative = 0.0
    """Model: drop at the evening's highest load [V]."""
    neighbours_rise_v: NotNegative = 0.0
    """Rise from the neighbours' feed-in at a global irradiance of 1000 W/m2 [V]."""
    noise_v: NotNegative = 0.0
    """Model: standard deviation of the random part [V]."""
    correlation_time_min: Positive = 60.0
    """Model: correlation time of the random part [min]."""
    seed: Annotated[int, Field(ge=0, lt=2**32)] = 1
    """Model: seed of the random part."""
    file: FileName | None = None
    """Series: path of the table, relative to the site file."""
    column: Text | None = None
    """Series: the column of phase voltages [V]; by default the last."""
    time: Text | None = None
    """Series: the column of times, by which it is joined to the weather; by default the first."""
    zone: Text | None = None
    """Series: zone of its times, where they carry none; by default the site's standard time."""
    label: Literal["start", "middle", "end"] = "start"
    """Series: which part of its step a time marks."""


class Load(Frozen):
    """The building's consumption behind the meter, at unity power factor."""

    kind: Literal["constant", "day", "series", "shape"]
    """One value, 24 hourly values of every day, a measured series, or an invented shape."""
    power_w: NotNegative | None = None
    """Constant: consumption [W]."""
    hours_w: tuple[NotNegative, ...] = ()
    """Day: consumption from each full hour to the next, 24 values from midnight on [W]."""
    kwh_per_year: Annotated[float, Field(gt=0, le=1e7)] | None = None
    """Shape: consumption in a year [kWh], laid on hours, days of the week and seasons."""
    shape: Literal["dwelling", "workplace"] = "dwelling"
    """Shape: whose hours; invented, so that self-use reckoned with it is a rough one."""
    file: FileName | None = None
    """Series: path of the table, relative to the site file; of a year, joined to the weather by
    date and time of day in standard time, and moved by up to three days so that the days of the
    week agree."""
    column: Text | None = None
    """Series: the column of consumption; by default the last."""
    unit: Literal["W", "kW", "Wh", "kWh"] | None = None
    """Series: unit of its values, energies being those of each step; by default W."""
    time: Text | None = None
    """Series: the column of times; by default the first."""
    zone: Text | None = None
    """Zone of the clock; by default the site's. Day and shape: with clock wall only."""
    clock: Literal["standard", "wall"] = "standard"
    """Series whose times carry no zone, day and shape: by standard time all year, or by the clock
    on the wall, with summer time; that takes a zone by name, such as Area/City."""
    label: Literal["start", "middle", "end"] = "start"
    """Series: which part of its step a time marks."""


class GridConnection(Frozen):
    """The common lead, meter, network and the rules the plant is run under."""

    lead: AcLead | None = None
    """The AC lead to the meter that all inverters share; none is no rise in it, and no checks."""
    network_resistance_ohm: NotNegative = 0.0
    """Resistance of the loop that a phase's current meets in the network up to the connection
    point [ohm]: phase and neutral together in single-phase, the phase alone in three-phase."""
    network_reactance_ohm: NotNegative = 0.0
    """Reactance of that loop [ohm]."""
    network_voltage: NetworkVoltage = NetworkVoltage()
    """The network's voltage without this plant."""
    profile: (
        Literal["en-50549-1", "vde-ar-n-4105-2018", "g98-g99", "as-nzs-4777-2-a", "ieee-1547-2018"]
        | None
    ) = None
    """Network rules; left out: no switch-off is modelled."""
    ten_minute_mean: Literal["sliding", "cleared"] = "sliding"
    """Whether the mean that trips slides on while the inverter is off, or is cleared then."""
    load_w: NotNegative = 0.0
    """Constant consumption of the building behind the meter [W]; `load` says it hour by hour."""
    load: Load | None = None
    """Consumption of the building behind the meter, in place of `load_w`."""
    export_limit_w: NotNegative | None = None
    """Largest power allowed into the network, at the meter [W]."""
    export_sharing: Literal["proportional", "in-order"] = "proportional"
    """How inverters share an export limit: each the same share of the power it could give, or
    the first listed keeps its power longest."""
    residual_current_device: Literal["none", "type-a", "type-b"] | None = None
    """Residual current device in the AC lead."""
    bonding_conductor_mm2: CrossSection | None = None
    """Copper bonding conductor of frames and rails [mm2]."""
    busbar_rating_a: Positive | None = None
    """Rating of the distribution board's busbar [A]."""
    main_device_a: Positive | None = None
    """Rating of the overcurrent device that feeds the busbar [A]."""
    availability_percent: Annotated[float, Field(gt=0, le=100)] = 100.0
    """Share of time the plant is up [%]."""
