"""Module types: what a datasheet says, or a row of a public list."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from yieldkit.config.models.base import Celsius, Count, Frozen, Name, NotNegative, Positive, Text
from yieldkit.config.models.coefficients import absolute

CellLayout = Literal["full-cell", "half-cut", "shingled"]
Earthing = Literal["no", "negative", "positive"]
Deviation = Annotated[float, Field(ge=-100, le=100)]
Bifaciality = Annotated[float, Field(ge=0, le=1)]


class MatrixPoint(Frozen):
    """One row of an IEC 61853-1 power matrix."""

    irradiance_w_m2: Positive
    """Irradiance [W/m2]."""
    temp_cell_c: Celsius
    """Cell temperature [degC]."""
    power_w: Positive
    """Maximum power there [W]."""


class DatasheetModule(Frozen):
    """A module type by its datasheet values at standard test conditions (STC)."""

    source: Literal["datasheet"]
    """Where the values come from: the datasheet."""
    name: Name
    """The name that planes refer to."""
    technology: Literal["mono-si", "poly-si", "cdte", "cigs", "a-si"]
    """Cell technology."""
    p_max_w: Positive
    """Maximum power at STC [W]."""
    v_oc_v: Positive
    """Open-circuit voltage at STC [V]."""
    i_sc_a: Positive
    """Short-circuit current at STC [A]."""
    v_mp_v: Positive
    """Voltage at maximum power, STC [V]."""
    i_mp_a: Positive
    """Current at maximum power, STC [A]."""
    cells_in_series: Count
    """Cells in series (a half-cut module of 144 half-cells has 72)."""
    alpha_sc: Text | None = None
    """Short-circuit current's coefficient with its unit, such as "0.05 %/K" or "0.006 A/K"."""
    beta_voc: Text | None = None
    """Open-circuit voltage's coefficient with its unit, such as "-0.28 %/K" or "-0.13 V/K"."""
    gamma_pmp: Text | None = None
    """Power's coefficient with its unit, such as "-0.35 %/K"."""
    cell_layout: CellLayout = "full-cell"
    """How the cells are cut and joined; shingled modules are not modelled in partial shade."""
    bypass_diodes: Count = 3
    """Number of bypass diodes."""
    relative_efficiency_200: Positive | None = None
    """Efficiency at 200 W/m2, 25 degC over that at STC (such as 0.97)."""
    power_matrix: tuple[MatrixPoint, ...] = ()
    """IEC 61853-1 power matrix, where one is known."""
    v_oc_tolerance_percent: NotNegative | None = None
    """Manufacturing tolerance of the open-circuit voltage, upwards [%]; none counts if left out."""
    power_tolerance_percent: tuple[Deviation, Deviation] | None = None
    """Lowest and highest deviation of power from its rating [%], such as [0, 3]."""
    initial_v_oc_excess_percent: NotNegative | None = None
    """Thin film: how much higher the open-circuit voltage is before light soaking [%]."""
    max_system_voltage_v: Positive | None = None
    """Maximum system voltage [V]."""
    max_ocpr_a: Positive | None = None
    """Module maximum overcurrent protection rating, I_MOD_MAX_OCPR [A]."""
    connector: Text | None = None
    """Connector type as marked on the module's leads; mated pairs must be of one type."""
    length_m: Positive | None = None
    """Longer side [m]."""
    width_m: Positive | None = None
    """Shorter side [m]."""
    lead_length_m: Positive | None = None
    """Length of each of the module's two leads [m]."""
    noct_c: Celsius | None = None
    """Nominal operating cell temperature (NOCT or NMOT) [degC]."""
    bifaciality: Bifaciality | None = None
    """Rear over front efficiency, as a share; leave it out for a module of one face."""
    i_sc_bnpi_a: Positive | None = None
    """Bifacial: short-circuit current with the nameplate's 135 W/m2 from behind (BNPI) [A]."""
    capacitance_nf_per_kwp: Positive | None = None
    """Capacitance of wet modules to earth per kWp [nF]; assumed by technology if left out."""
    needs_functional_earthing: Earthing | None = None
    """Pole the maker wants earthed."""

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
    """Where the values come from: the list."""
    name: Name
    """The name that planes refer to."""
    row: Text
    """The row's name as the list has it."""
    cell_layout: CellLayout = "full-cell"
    """How the cells are cut and joined, which the list doesn't say."""
    bypass_diodes: Count = 3
    """Number of bypass diodes, which the list doesn't say."""
    v_oc_tolerance_percent: NotNegative | None = None
    """Manufacturing tolerance of the open-circuit voltage, upwards [%]; none counts if left out."""
    max_system_voltage_v: Positive | None = None
    """Maximum system voltage [V]."""
    max_ocpr_a: Positive | None = None
    """Module maximum overcurrent protection rating, I_MOD_MAX_OCPR [A]."""
    connector: Text | None = None
    """Connector type as marked on the module's leads; mated pairs must be of one type."""
    length_m: Positive | None = None
    """Longer side [m]."""
    width_m: Positive | None = None
    """Shorter side [m]."""
    lead_length_m: Positive | None = None
    """Length of each of the module's two leads [m]."""
    bifaciality: Bifaciality | None = None
    """Rear over front efficiency, as a share; leave it out for a module of one face."""
    capacitance_nf_per_kwp: Positive | None = None
    """Capacitance of wet modules to earth per kWp [nF]; assumed by technology if left out."""
    needs_functional_earthing: Earthing | None = None
    """Pole the maker wants earthed."""


ModuleType = Annotated[DatasheetModule | ListedModule, Field(discriminator="source")]
