"""Inverters: inputs, AC side, conversion, derating and what is built in."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from yieldkit.base.display import Card, short_name, some_names
from yieldkit.config.models.base import (
    Celsius,
    Count,
    Frozen,
    Name,
    NotNegative,
    Positive,
    Share,
    Text,
)


class MpptInput(Frozen):
    """One MPPT input of the inverter; a limit that is left out is unknown, never unlimited."""

    name: Name
    """The name that wirings refer to, such as the nameplate's marking."""
    connectors: Count
    """Pairs of DC connectors."""
    max_current_per_connector_a: Positive | None = None
    """Rated current of one connector pair [A]."""
    max_voltage_v: Positive
    """Absolute maximum DC voltage of the input [V]."""
    start_voltage_v: Positive
    """Voltage at which the input starts up [V]."""
    stop_voltage_v: Positive | None = None
    """Voltage under which the input stops [V]."""
    start_power_w: NotNegative = 0.0
    """Power that is needed to start up [W]."""
    stop_power_w: NotNegative = 0.0
    """Power under which the input stops [W]."""
    start_delay_s: NotNegative = 0.0
    """Time the start-up conditions must hold [s]."""
    restart_delay_s: NotNegative = 0.0
    """Time off after a stop [s]."""
    mpp_voltage_min_v: Positive
    """Lower end of the tracking window [V]."""
    mpp_voltage_max_v: Positive
    """Upper end of the tracking window [V]."""
    full_power_voltage_min_v: Positive | None = None
    """Lower end of the window in which full power is reached [V]."""
    full_power_voltage_max_v: Positive | None = None
    """Upper end of that window [V]; a colder string above it costs yield at full power."""
    max_input_current_a: Positive | None = None
    """Largest operating current [A]; more only costs yield."""
    short_circuit_rating_a: Positive | None = None
    """Absolute maximum PV short-circuit current of the input, I_SC PV [A]."""
    max_power_w: Positive | None = None
    """Largest DC power of the input [W]."""
    max_operating_voltage_v: Positive | None = None
    """Highest voltage at which the input still feeds in [V]; the absolute maximum if left out."""
    search: Literal["global", "local"] = "global"
    """Whether the tracker looks for the global maximum, or stays at the one it reaches."""
    tracking_efficiency: Share = 0.998
    """Static tracking efficiency (EN 50530), as a share."""
    string_fuses_built_in_a: Positive | None = None
    """Rating of string fuses inside the inverter [A]."""
    blocking_diodes: bool = False
    """Whether each string has a blocking diode."""


class EfficiencyTable(Frozen):
    """Conversion efficiency by DC voltage and AC load."""

    kind: Literal["table"]
    """How the efficiency is given: as a table."""
    loads: tuple[Annotated[float, Field(gt=0, le=1.2)], ...]
    """AC power over nominal AC power, rising."""
    voltages_v: tuple[Positive, ...]
    """DC voltages [V], rising."""
    values: tuple[tuple[Share, ...], ...]
    """Efficiencies as shares: one row per voltage, one value per load."""


class WeightedEfficiency(Frozen):
    """European and CEC weighted efficiencies with the maximum; the curve's shape is assumed."""

    kind: Literal["weighted"]
    """How the efficiency is given: as weighted figures."""
    european: Share
    """European weighted efficiency, as a share."""
    cec: Share | None = None
    """Californian (CEC) weighted efficiency, as a share."""
    maximum: Share
    """Maximum efficiency, as a share."""
    load_at_maximum: Annotated[float, Field(gt=0, le=1)] = 0.5
    """AC power over nominal AC power at the maximum."""
    voltage_v: Positive | None = None
    """The DC voltage the figures belong to [V]; told, and not used: they count at every voltage."""


class ListedEfficiency(Frozen):
    """Conversion coefficients of a row in the inverter list that pvlib bundles, not its limits."""

    kind: Literal["sandia-list"]
    """How the efficiency is given: by a row of the list."""
    row: Text
    """The row's name as the list has it."""


Efficiency = Annotated[
    EfficiencyTable | WeightedEfficiency | ListedEfficiency, Field(discriminator="kind")
]


class DeratingPoint(Frozen):
    """Maximum AC power at an inlet temperature, where given for one DC voltage only."""

    temp_inlet_c: Celsius
    """Temperature of the air the inverter draws in [degC]."""
    max_power_w: NotNegative
    """Largest AC power there [W]."""
    dc_voltage_v: Positive | None = None
    """The DC voltage the point belongs to [V]; any, if left out."""


class AltitudeDerating(Frozen):
    """Loss of power in thin air: of the derating curve, or of nominal power where there is none."""

    above_m: Annotated[float, Field(ge=-430, le=9000)]
    """Altitude from which power falls [m]."""
    percent_per_100_m: NotNegative
    """Loss of power per 100 m above it, in percent of the power lower down [%]."""


class AcSide(Frozen):
    """The inverter's AC side."""

    nominal_power_w: Positive
    """Nominal active power [W]."""
    max_power_w: Positive | None = None
    """Largest active power [W]; the nominal power if left out."""
    max_apparent_power_va: Positive | None = None
    """Largest apparent power [VA]."""
    max_current_a: Positive | None = None
    """Largest current of a phase [A]."""
    phases: Literal[1, 3]
    """Number of phases."""
    nominal_voltage_v: Positive
    """Phase to neutral, such as 230 [V]."""
    nominal_frequency_hz: Literal[50, 60] = 50
    """Frequency of the network [Hz]."""
    power_factor: Annotated[float, Field(ge=0.8, le=1)] = 1.0
    """Displacement factor cos phi in operation."""
    power_factor_sign: Literal["absorbing", "injecting"] = "absorbing"
    """Whether reactive power is absorbed (lowers the voltage) or injected."""
    export_limit_w: NotNegative | None = None
    """Largest power allowed into the network [W]."""
    max_overcurrent_device_a: Positive | None = None
    """The maker's largest allowed AC overcurrent device [A]."""


class PairLimit(Frozen):
    """A power limit that several inputs share."""

    mppts: Annotated[tuple[Name, ...], Field(min_length=2)]
    """Names of the inputs."""
    max_power_w: Positive
    """Largest DC power of them together [W]."""


class DcIsolator(Frozen):
    """The DC switch-disconnector."""

    category: Text | None = None
    """Utilization category of IEC 60947-3, such as DC-PV2."""
    rated_voltage_v: Positive | None = None
    """Rated DC voltage [V]."""
    rated_current_a: Positive | None = None
    """Rated current at that voltage [A]."""
    poles: Count | None = None
    """Number of poles that open."""


SurgeType = Literal["none", "type-1", "type-2", "type-1-2"]


class SurgeProtection(Frozen):
    """Surge protective devices."""

    dc_type: SurgeType = "none"
    """Type of the DC side's device."""
    dc_type_at_array: SurgeType = "none"
    """Type of a second device on the DC side, at the array; asked for beyond 10 m of cable."""
    dc_max_continuous_voltage_v: Positive | None = None
    """Highest continuous DC voltage of the devices, U_CPV [V]."""
    ac_type: SurgeType = "none"
    """Type of the AC side's device."""


class Price(Frozen):
    """What one inverter costs."""

    amount: NotNegative
    """Price of one, in its currency."""
    currency: Text
    """Such as EUR; the same for all kinds of inverters."""


class Inverter(Frozen):
    """An inverter with its MPPT inputs, AC side, conversion and derating."""

    name: Name
    """What the inverter is called."""
    topology: Literal["transformerless", "transformer"] | None = None
    """Whether a transformer separates the array from the network."""
    mppts: Annotated[tuple[MpptInput, ...], Field(min_length=1)]
    """The inputs with a tracker of their own."""
    max_dc_power_w: Positive | None = None
    """Largest DC power of all inputs together [W]."""
    max_dc_power_pairs: tuple[PairLimit, ...] = ()
    """Power limits that several inputs share."""
    ac: AcSide
    """The AC side."""
    efficiency: Efficiency
    """Conversion efficiency from DC to AC."""
    night_power_w: NotNegative = 0.0
    """Consumption at night [W]."""
    auxiliary_power_w: NotNegative = 0.0
    """External auxiliary power (fans, loggers) that efficiency figures don't contain [W]."""
    derating: tuple[DeratingPoint, ...] = ()
    """Largest AC power over inlet temperature, from the datasheet's curve."""
    altitude_derating: AltitudeDerating | None = None
    """Loss of power in thin air, from the datasheet."""
    max_altitude_m: Annotated[float, Field(ge=-430, le=9000)] | None = None
    """Highest altitude the maker allows [m]; above 2000 m it has to be known."""
    max_dc_short_circuit_a: Positive | None = None
    """Absolute maximum PV short-circuit current of all inputs together [A]."""
    backfeed_current_a: NotNegative | None = None
    """Largest current the inverter feeds back into the array, I_BF [A]; 0 is assumed if left out.
    It counts for the need of string fuses, for reverse current and for the cables' ampacity."""
    dc_isolator: DcIsolator | None = None
    """The DC switch-disconnector, built in or beside."""
    surge_protection: SurgeProtection | None = None
    """Surge protective devices, built in or beside."""
    connector_rated_voltage_v: Positive | None = None
    """Rated voltage of the DC connectors [V]."""
    connector: Text | None = None
    """Connector type of the inputs; mated pairs must be of one type."""
    arc_detection: bool | None = None
    """Whether series arcs are detected."""
    rapid_shutdown: bool | None = None
    """Whether the array side can be shut down from the ground (where a rule profile asks)."""
    price: Price | None = None
    """What one costs; told beside the energy where inverters are to be chosen."""
    residual_current_monitor: bool | None = None
    """Built-in residual current monitoring unit (IEC 62109-2)."""

    def __repr__(self) -> str:
        return _card(self).text()

    __str__ = __repr__

    def _repr_html_(self) -> str:
        return _card(self).html()


def _card(inverter: Inverter) -> Card:
    """Return what an inverter is, in a few lines."""
    alike: dict[str, list[str]] = {}
    for mppt in inverter.mppts:
        required = (
            f"window {mppt.mpp_voltage_min_v:g} to {mppt.mpp_voltage_max_v:g} V, at most "
            f"{mppt.max_voltage_v:g} V, connectors: {mppt.connectors}"
        )
        alike.setdefault(required, []).append(mppt.name)
    side = inverter.ac
    power = f"{side.nominal_power_w:,.0f} W nominal, {side.phases} x {side.nominal_voltage_v:g} V"
    rows = [(some_names(names, 2, 12), required) for required, names in alike.items()][:6]
    return Card(
        f"Inverter '{short_name(inverter.name)}'",
        (*rows, ("AC side", power), ("efficiency", inverter.efficiency.kind)),
        "Parts: .mppts, .ac, .efficiency; .model_dump() gives every value.",
    )
