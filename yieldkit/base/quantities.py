"""One table of every result quantity; it stamps Datasets and refuses what it doesn't know."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr

from yieldkit.base.errors import refuse


class Quantity(NamedTuple):
    """What a result variable is.

    Parameters
    ----------
    units : str
        Unit in CF style; "1" for plain numbers.
    dims : tuple of str
        Dimensions it must have.
    meaning : str
        One line for the `long_name` attribute.
    label : str
        Short text for axes and tables.
    symbol : str
        IEC 61724-1 or IEC 61836 symbol, empty where there is none.
    """

    units: str
    dims: tuple[str, ...]
    meaning: str
    label: str
    symbol: str = ""


_TP = ("time", "plane")
_TT = ("time", "tracker")
_TS = ("time", "string")
_T = ("time",)
_TI = ("time", "inverter")

QUANTITIES: dict[str, Quantity] = {
    "poa_global": Quantity("W/m2", _TP, "in-plane irradiance", "in-plane irradiance", "G_i"),
    "effective_irradiance": Quantity(
        "W/m2", _TP, "irradiance that reaches the cells, rear gain included", "effective irradiance"
    ),
    "temp_cell": Quantity("degC", _TP, "cell temperature", "cell temperature", "T_c"),
    "weather_state": Quantity(
        "1", _T, "whether the step's weather was measured, filled or is missing", "weather"
    ),
    "temp_air": Quantity("degC", _T, "ambient temperature", "ambient temperature", "T_amb"),
    "temp_inlet": Quantity("degC", _TI, "temperature of the inverter's inlet air", "inlet air"),
    "p_mp_module": Quantity(
        "W", _TP, "maximum power of one module standing alone", "module maximum power", "P_max"
    ),
    "v_dc": Quantity("V", _TT, "voltage at the MPPT input", "input voltage", "V_A"),
    "i_dc": Quantity("A", _TT, "current into the MPPT input", "input current", "I_A"),
    "p_dc": Quantity("W", _TT, "power drawn by the MPPT input", "input power", "P_A"),
    "p_dc_available": Quantity(
        "W", _TT, "power the input could draw if the AC side took it all", "available input power"
    ),
    "binding_limit": Quantity("1", _TT, "limit that holds the tracker", "binding limit"),
    "i_string": Quantity("A", _TS, "string current, negative when fed backwards", "string current"),
    "p_ac_unlimited": Quantity("W", _T, "AC power before any AC limit", "AC power before limits"),
    "p_ac_cap": Quantity("W", _TI, "largest AC power allowed at that time", "AC cap"),
    "p_ac": Quantity(
        "W", _T, "AC power at the inverter's terminals, negative when it draws", "AC power"
    ),
    "ac_limit": Quantity("1", _TI, "limit that holds the AC power", "AC limit"),
    "p_held_back": Quantity("W", _TI, "AC power that a limit holds back", "AC power held back"),
    "q_ac": Quantity(
        "var", _TI, "reactive power of the inverter, positive when injected", "reactive power", "Q"
    ),
    "p_delivered": Quantity("W", _T, "power that arrives at the meter", "delivered power", "P_out"),
    "v_connection": Quantity(
        "V", _T, "voltage at the meter, phase to neutral", "voltage at the meter"
    ),
    "p_load": Quantity("W", _T, "consumption behind the meter", "consumption"),
    "p_self_use": Quantity(
        "W", _T, "delivered power that the load takes at the same time", "self-use"
    ),
    "p_export": Quantity("W", _T, "delivered power that leaves through the meter", "export"),
    "p_import": Quantity(
        "W", _T, "power taken from the network by the load and at night", "import"
    ),
    "v_ac": Quantity(
        "V", _TI, "voltage at the inverter's terminals, phase to neutral", "AC voltage"
    ),
    "off_fraction": Quantity(
        "1", _TI, "share of the step lost to switch-off for network voltage", "switched off"
    ),
    "p_cable_loss": Quantity("W", _TT, "heat in the DC cables (current squared R)", "cable heat"),
    "p_lead_loss": Quantity("W", _T, "heat in the AC leads (current squared R)", "lead heat"),
    "voltage_clamped": Quantity(
        "1", _T, "1 where an input voltage lay outside the efficiency table", "voltage clamped"
    ),
    "loss_budget": Quantity("kWh", ("loss_step",), "energy lost in each step", "loss"),
    "potential": Quantity("kWh", ("stage",), "energy left after each step", "energy left"),
    "tracker_energy": Quantity("kWh", ("tracker",), "DC energy of each input", "DC energy"),
    "plane_irradiation": Quantity("kWh/m2", ("plane",), "in-plane irradiation", "H_i", "H_i"),
    "modules_wired": Quantity(
        "1", ("plane",), "modules of the plane in this wiring", "modules wired"
    ),
    "modules": Quantity("1", ("plane",), "modules drawn on the plane", "modules"),
    "string_tracker": Quantity(
        "1", ("string",), "index of the tracker the string hangs on", "tracker"
    ),
    "tracker_inverter": Quantity(
        "1", ("tracker",), "index of the inverter the input belongs to", "inverter"
    ),
    "string_modules": Quantity("1", ("string",), "modules in the string", "modules"),
}


def stamp(dataset: xr.Dataset) -> xr.Dataset:
    """Return the Dataset with units and long names from the table.

    Units are stamped last because arithmetic keeps stale ones.

    Raises
    ------
    InputError
        If a variable is not in the table, or has other dimensions.
    """
    stamped = dataset.copy()
    for name in stamped.data_vars:
        variable = stamped.variables[name]
        quantity = QUANTITIES.get(str(name))
        if quantity is None:
            refuse(f"result variable '{name}'", "no entry", "a row in words.names.QUANTITIES")
        if variable.dims != quantity.dims:
            refuse(f"result variable '{name}'", f"dimensions {variable.dims}", str(quantity.dims))
        kept = {
            key: value
            for key, value in variable.attrs.items()
            if key in ("flag_values", "flag_meanings")
        }
        variable.attrs = {"units": quantity.units, "long_name": quantity.meaning} | kept
    return stamped


def flags(codes: dict[str, int]) -> dict[str, object]:
    """Return CF flag attributes for a table of code words.

    Parameters
    ----------
    codes : dict of str to int
        Word and code; blanks and colons in words become underscores.
    """
    return {
        "flag_values": np.array(list(codes.values()), dtype=np.int8),
        "flag_meanings": " ".join(word.replace(":", "").replace(" ", "_") for word in codes),
    }
