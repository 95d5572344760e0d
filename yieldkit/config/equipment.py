"""Module types, inverters and cables: what a datasheet says, in frozen models."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from yieldkit.config.coefficients import absolute

Name = Annotated[str, Field(min_length=1, max_length=200)]
Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]


class Frozen(BaseModel):
    """Base of every configuration model: frozen, strict, no unknown keys, no inf or nan."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        strict=True,
        allow_inf_nan=False,
        validate_default=True,
        use_attribute_docstrings=True,
    )


class MatrixPoint(Frozen):
    """One row of an IEC 61853-1 power matrix."""

    irradiance_w_m2: Positive
    temp_cell_c: float
    power_w: Positive


class DatasheetModule(Frozen):
    """A module type by its datasheet values at standard test conditions (STC)."""

    source: Literal["datasheet"]
    name: Name
    technology: Literal["mono-si", "poly-si", "cdte", "cigs", "a-si"]
    p_max_w: Positive
    v_oc_v: Positive
    i_sc_a: Positive
    v_mp_v: Positive
    i_mp_a: Positive
    cells_in_series: Annotated[int, Field(ge=1)]
    """Cells in series (a half-cut module of 144 half-cells has 72)."""
    alpha_sc: str | None = None
    """Short-circuit current's coefficient with its unit, such as "0.05 %/K" or "0.006 A/K"."""
    beta_voc: str | None = None
    """Open-circuit voltage's coefficient with its unit, such as "-0.28 %/K" or "-0.13 V/K"."""
    gamma_pmp: str | None = None
    """Power's coefficient with its unit, such as "-0.35 %/K"."""
    cell_layout: Literal["full-cell", "half-cut", "shingled"] = "full-cell"
    bypass_diodes: Annotated[int, Field(ge=1)] = 3
    relative_efficiency_200: Positive | None = None
    """Efficiency at 200 W/m2, 25 degC over that at STC (such as 0.97)."""
    power_matrix: tuple[MatrixPoint, ...] = ()
    """IEC 61853-1 power matrix, where one is known."""
    v_oc_tolerance_percent: NotNegative | None = None
    power_tolerance_percent: tuple[float, float] | None = None
    initial_v_oc_excess_percent: NotNegative | None = None
    """Thin film before light soaking."""
    max_system_voltage_v: Positive | None = None
    max_ocpr_a: Positive | None = None
    """Module maximum overcurrent protection rating (I_MOD_MAX_OCPR)."""
    connector: str | None = None
    """Connector make and type as marked on the module's leads."""
    length_m: Positive | None = None
    width_m: Positive | None = None
    noct_c: float | None = None
    bifaciality: Annotated[float, Field(ge=0, le=1)] | None = None
    needs_functional_earthing: Literal["no", "negative", "positive"] | None = None

    @property
    def alpha_sc_a_per_k(self) -> float | None:
        """Coefficient of the short-circuit current [A/K]."""
        return absolute(self.alpha_sc, "A", self.i_sc_a)

    @property
    def beta_voc_v_per_k(self) -> float | None:
        """Coefficient of the open-circuit voltage [V/K]."""
        return absolute(self.beta_voc, "V", self.v_oc_v)

    @property
    def gamma_pmp_per_k(self) -> float | None:
        """Coefficient of the maximum power, relative [1/K]."""
        watts = absolute(self.gamma_pmp, "W", self.p_max_w)
        return None if watts is None else watts / self.p_max_w


class ListedModule(Frozen):
    """A module type by its row in the CEC module list that pvlib bundles."""

    source: Literal["cec-list"]
    name: Name
    row: str
    """The row's name as the list has it."""
    cell_layout: Literal["full-cell", "half-cut", "shingled"] = "full-cell"
    bypass_diodes: Annotated[int, Field(ge=1)] = 3
    v_oc_tolerance_percent: NotNegative | None = None
    max_system_voltage_v: Positive | None = None
    max_ocpr_a: Positive | None = None
    connector: str | None = None
    length_m: Positive | None = None
    width_m: Positive | None = None
    bifaciality: Annotated[float, Field(ge=0, le=1)] | None = None
    needs_functional_earthing: Literal["no", "negative", "positive"] | None = None


ModuleType = Annotated[DatasheetModule | ListedModule, Field(discriminator="source")]


class MpptInput(Frozen):
    """One MPPT input of the inverter; a limit that is left out is unknown, never unlimited."""

    name: Name
    connectors: Annotated[int, Field(ge=1)]
    """Pairs of DC connectors."""
    max_current_per_connector_a: Positive | None = None
    max_voltage_v: Positive
    """Absolute maximum DC voltage of the input."""
    start_voltage_v: Positive
    stop_voltage_v: Positive | None = None
    start_power_w: NotNegative = 0.0
    stop_power_w: NotNegative = 0.0
    start_delay_s: NotNegative = 0.0
    restart_delay_s: NotNegative = 0.0
    mpp_voltage_min_v: Positive
    mpp_voltage_max_v: Positive
    full_power_voltage_min_v: Positive | None = None
    full_power_voltage_max_v: Positive | None = None
    max_input_current_a: Positive | None = None
    """Largest operating current; more only costs yield."""
    short_circuit_rating_a: Positive | None = None
    """Absolute maximum PV short-circuit current of the input (I_SC PV)."""
    max_power_w: Positive | None = None
    max_operating_voltage_v: Positive | None = None
    """Highest voltage at which the input still feeds in; the absolute maximum if left out."""
    search: Literal["global", "local"] = "global"
    tracking_efficiency: Annotated[float, Field(gt=0, le=1)] = 0.998
    string_fuses_built_in_a: Positive | None = None
    blocking_diodes: bool = False


class EfficiencyTable(Frozen):
    """Conversion efficiency by DC voltage and AC load."""

    kind: Literal["table"]
    loads: tuple[Annotated[float, Field(gt=0, le=1.2)], ...]
    """AC power over nominal AC power, rising."""
    voltages_v: tuple[Positive, ...]
    values: tuple[tuple[Annotated[float, Field(gt=0, le=1)], ...], ...]
    """One row per voltage, one value per load."""


class WeightedEfficiency(Frozen):
    """European and CEC weighted efficiencies with the maximum; the curve's shape is assumed."""

    kind: Literal["weighted"]
    european: Annotated[float, Field(gt=0, le=1)]
    cec: Annotated[float, Field(gt=0, le=1)] | None = None
    maximum: Annotated[float, Field(gt=0, le=1)]
    load_at_maximum: Annotated[float, Field(gt=0, le=1)] = 0.5
    voltage_v: Positive | None = None
    """The DC voltage the figures belong to."""


class ListedEfficiency(Frozen):
    """Conversion coefficients of a row in the inverter list that pvlib bundles; never its limits."""

    kind: Literal["sandia-list"]
    row: str


Efficiency = Annotated[
    EfficiencyTable | WeightedEfficiency | ListedEfficiency, Field(discriminator="kind")
]


class DeratingPoint(Frozen):
    """Maximum AC power at an inlet temperature, where given for one DC voltage only."""

    temp_inlet_c: float
    max_power_w: NotNegative
    dc_voltage_v: Positive | None = None


class AltitudeDerating(Frozen):
    """Loss of maximum power above an altitude."""

    above_m: float
    percent_per_100_m: NotNegative


class AcSide(Frozen):
    """The inverter's AC side."""

    nominal_power_w: Positive
    max_power_w: Positive | None = None
    max_apparent_power_va: Positive | None = None
    max_current_a: Positive | None = None
    """Amperes per phase."""
    phases: Literal[1, 3]
    nominal_voltage_v: Positive
    """Phase to neutral, such as 230."""
    power_factor: Annotated[float, Field(ge=0.8, le=1)] = 1.0
    power_factor_sign: Literal["absorbing", "injecting"] = "absorbing"
    export_limit_w: NotNegative | None = None
    max_overcurrent_device_a: Positive | None = None
    """The maker's largest allowed AC overcurrent device."""


class Inverter(Frozen):
    """An inverter with its MPPT inputs, AC side, conversion and derating."""

    name: Name
    topology: Literal["transformerless", "transformer"] | None = None
    mppts: Annotated[tuple[MpptInput, ...], Field(min_length=1)]
    max_dc_power_w: Positive | None = None
    max_dc_power_pairs: tuple[PairLimit, ...] = ()
    ac: AcSide
    efficiency: Efficiency
    night_power_w: NotNegative = 0.0
    auxiliary_power_w: NotNegative = 0.0
    """External auxiliary power (fans, loggers) that efficiency figures don't contain."""
    derating: tuple[DeratingPoint, ...] = ()
    altitude_derating: AltitudeDerating | None = None
    max_dc_short_circuit_a: Positive | None = None
    dc_isolator: DcIsolator | None = None
    surge_protection: SurgeProtection | None = None
    connector: str | None = None
    arc_detection: bool | None = None
    rapid_shutdown: bool | None = None
    """Whether the array side can be shut down from the ground (where a rule profile asks)."""
    residual_current_monitor: bool | None = None
    """Built-in residual current monitoring unit (IEC 62109-2)."""


class PairLimit(Frozen):
    """A power limit that several inputs share."""

    mppts: Annotated[tuple[Name, ...], Field(min_length=2)]
    max_power_w: Positive


class DcIsolator(Frozen):
    """The DC switch-disconnector."""

    category: str | None = None
    rated_voltage_v: Positive | None = None
    rated_current_a: Positive | None = None
    poles: Annotated[int, Field(ge=1)] | None = None


class SurgeProtection(Frozen):
    """Surge protective devices."""

    dc_type: Literal["none", "type-1", "type-2", "type-1-2"] = "none"
    dc_max_continuous_voltage_v: Positive | None = None
    ac_type: Literal["none", "type-1", "type-2", "type-1-2"] = "none"


class Cable(Frozen):
    """A DC string cable; the length is one way, from the array to the input."""

    length_m: NotNegative
    cross_section_mm2: Positive
    material: Literal["copper", "aluminium"] = "copper"
    conductor_class: Literal["class-2", "class-5", "class-5-tinned"] = "class-5-tinned"
    temp_conductor_c: float = 60.0
    rated_voltage_v: Positive | None = None


class AcLead(Frozen):
    """The AC lead from the inverter to the distribution board; the length is one way."""

    length_m: NotNegative
    cross_section_mm2: Positive
    material: Literal["copper", "aluminium"] = "copper"
    conductor_class: Literal["class-2", "class-5"] = "class-2"
    insulation: Literal["pvc", "xlpe"] = "pvc"
    installation_method: Literal["A1", "B1", "B2", "C", "D1", "D2", "E"] = "B2"
    temp_conductor_c: float = 70.0
    temp_ambient_c: float = 30.0
    circuits_bunched: Annotated[int, Field(ge=1)] = 1
    overcurrent_device_a: Positive | None = None


Inverter.model_rebuild()
