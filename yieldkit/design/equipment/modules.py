"""Module types of the configuration turned into fitted diodes."""

from __future__ import annotations

from yieldkit.config.models.modules import DatasheetModule, ListedModule
from yieldkit.physics.module import datasheet
from yieldkit.physics.module.datasheet import DiodeFit


def fit_module_type(module: DatasheetModule | ListedModule) -> DiodeFit:
    """Fit the single diode of a module type.

    Parameters
    ----------
    module : DatasheetModule or ListedModule
        The type as configured.

    Raises
    ------
    InputError
        If no fitting method passes its gates, or the list has no such row.
    """
    if isinstance(module, ListedModule):
        return datasheet.cec_row(module.row)
    return datasheet.fit_diode(
        datasheet.Datasheet(
            name=module.name,
            technology=module.technology,
            p_max=module.p_max_w,
            v_oc=module.v_oc_v,
            i_sc=module.i_sc_a,
            v_mp=module.v_mp_v,
            i_mp=module.i_mp_a,
            cells_in_series=module.cells_in_series,
            alpha_sc=module.alpha_sc_a_per_k,
            beta_voc=module.beta_voc_v_per_k,
            gamma_pmp=module.gamma_pmp_per_k,
            relative_efficiency_200=module.relative_efficiency_200,
            power_matrix=tuple(
                (point.irradiance_w_m2, point.temp_cell_c, point.power_w)
                for point in module.power_matrix
            ),
        )
    )


def module_power_stc(module: DatasheetModule | ListedModule) -> float:
    """Return the nameplate power of a module [W]."""
    if isinstance(module, DatasheetModule):
        return module.p_max_w
    return datasheet.cec_row(module.row).p_mp_ref
