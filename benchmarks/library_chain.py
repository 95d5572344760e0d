"""pvlib's own chain of models for a site's planes, the baseline of speed and of annual energy."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pvlib.location import Location
from pvlib.modelchain import ModelChain
from pvlib.pvsystem import Array, PVSystem

import yieldkit
from yieldkit.design.equipment.modules import fit_module_type


def diode_parameters(site: yieldkit.Site) -> dict[str, float]:
    """Return the single diode of the site's first module type under the library's names."""
    diode = fit_module_type(site.module_types[0]).reference
    return {
        "alpha_sc": diode.alpha_sc,
        "a_ref": diode.n_ns_vth,
        "I_L_ref": diode.photocurrent,
        "I_o_ref": diode.saturation_current,
        "R_sh_ref": diode.resistance_shunt,
        "R_s": diode.resistance_series,
        "EgRef": diode.eg_ref,
        "dEgdT": diode.deg_dt,
    }


def library_chain(
    site: yieldkit.Site, arrays: Sequence[Array], inverter: Mapping[str, float]
) -> ModelChain:
    """Return the chain of arrays at the site's place, with the site's own models.

    Parameters
    ----------
    site : Site
        Gives the place.
    arrays : sequence of Array
        Each stands at its own maximum.
    inverter : mapping of str to float
        The library's parameters of an inverter of one efficiency.
    """
    return ModelChain(
        PVSystem(list(arrays), inverter_parameters=dict(inverter)),
        Location(site.site.latitude, site.site.longitude, altitude=site.site.altitude_m),
        transposition_model="perez-driesse",
        aoi_model="physical",
        spectral_model="no_loss",
        temperature_model="faiman",
        dc_model="desoto",
        ac_model="pvwatts",
        losses_model="no_loss",
    )
