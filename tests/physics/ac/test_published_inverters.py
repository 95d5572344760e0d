"""Conversion, weighted efficiencies, limits and derating (check-values block 7)."""

import numpy as np
import pandas as pd
import pvlib
import pytest

from tests.archives import archive
from yieldkit.base.errors import InputError
from yieldkit.physics.ac.conversion import ac_power
from yieldkit.physics.ac.conversion_curves import (
    ListedConversion,
    curve_from_list_row,
    curve_from_table,
    curve_from_weighted,
    weighted_efficiency,
)
from yieldkit.physics.ac.derating import derated_power, thin_air_factor

pytestmark = pytest.mark.slow

# Set A, read in pvlib's own tests; set B, a table row.
SET_A = ListedConversion(
    250.0, 259.5220505, 40.24260317, 1.771614224, -2.48e-5, -9.01e-5, 6.69e-4, -0.0189, 0.0, 1e3
)
SET_B = ListedConversion(
    250.0, 259.588593, 40.0, 2.089607, -4.1e-5, -9.1e-5, 4.94e-4, -0.013171, 0.0, 1e3
)
EUROPEAN = ((0.05, 0.03), (0.1, 0.06), (0.2, 0.13), (0.3, 0.1), (0.5, 0.48), (1.0, 0.2))
CEC = ((0.1, 0.04), (0.2, 0.05), (0.3, 0.12), (0.5, 0.21), (0.75, 0.53), (1.0, 0.05))


def converted(curve, powers, volts):
    """Return AC power of trackers at one step."""
    return float(ac_power(curve, np.array([powers], float), np.array([volts], float)).p_ac[0])


def test_library_example():
    assert converted(SET_A, [137.5], [25.0]) == pytest.approx(132.004278, abs=1e-6)
    assert converted(SET_A, [0.0], [25.0]) == 0.0


# Set B at 30, 40 and 50 V, computed.
@pytest.mark.parametrize(
    ("p_dc", "expected"),
    [
        (10.0, (7.7745, 7.7610, 7.7475)),
        (50.0, (46.9472, 46.9268, 46.9067)),
        (125.0, (119.9958, 120.0092, 120.0231)),
        (200.0, (192.5224, 192.6303, 192.7390)),
    ],
)
def test_listed_inverter_by_power_and_voltage(p_dc, expected):
    for volts, value in zip((30.0, 40.0, 50.0), expected, strict=True):
        assert converted(SET_B, [p_dc], [volts]) == pytest.approx(value, abs=1e-4)


def test_listed_inverter_at_its_reference_and_start():
    assert converted(SET_B, [259.588593], [40.0]) == pytest.approx(250.0, abs=1e-9)
    assert converted(SET_B, [2.0], [40.0]) == 0.0


def test_two_inputs_are_weighted_by_power():
    found = converted(SET_B, [80.0, 120.0], [30.0, 50.0])
    assert found == pytest.approx(192.652378, abs=1e-6)
    parameters = {
        "Paco": 250.0,
        "Pdco": 259.588593,
        "Vdco": 40.0,
        "Pso": 2.089607,
        "C0": -4.1e-5,
        "C1": -9.1e-5,
        "C2": 4.94e-4,
        "C3": -0.013171,
        "Pnt": 0.075,
    }
    expected = pvlib.inverter.sandia_multi(
        [np.array([30.0]), np.array([50.0])], [np.array([80.0]), np.array([120.0])], parameters
    )
    assert found == pytest.approx(float(expected[0]), rel=1e-12)
    assert converted(SET_B, [100.0, 100.0], [40.0, 40.0]) == pytest.approx(
        converted(SET_B, [200.0], [40.0]), rel=1e-12
    )


def test_an_idle_input_beside_a_loaded_one_changes_nothing():
    assert converted(SET_B, [120.0, 0.0], [40.0, 0.0]) == pytest.approx(
        converted(SET_B, [120.0], [40.0]), rel=1e-12
    )


def test_identities_over_the_whole_bundled_list():
    table = pvlib.pvsystem.retrieve_sam("CECInverter")
    names = table.columns[:: max(len(table.columns) // 60, 1)]
    for name in names:
        curve = curve_from_list_row(name)._replace(v_low=0.0, v_high=1e9)
        assert converted(curve, [curve.pdco], [curve.vdco]) == pytest.approx(curve.paco, rel=1e-9)


def test_no_listed_inverter_gives_more_than_it_takes():
    # Twelve of them exceed efficiency 1 at low voltage (practice.md T41).
    table = pvlib.pvsystem.retrieve_sam("CECInverter")
    for name in table.columns[::40]:
        curve = curve_from_list_row(name)
        shares = np.linspace(0.02, 1.0, 25)
        for volts in (curve.v_low, curve.vdco, curve.v_high):
            p_dc = shares[:, None] * curve.pdco
            found = ac_power(curve, p_dc, np.full_like(p_dc, volts)).p_ac
            assert (found <= p_dc[:, 0]).all()
            assert (found >= 0.0).all()


def test_weighted_efficiencies():
    # Efficiencies .92 .945 .96 .966 .97 .969 .965 at 5 10 20 30 50 75 100 %: 0.96430 and 0.96724.
    loads = np.array([0.05, 0.1, 0.2, 0.3, 0.5, 0.75, 1.0])
    values = np.array([0.92, 0.945, 0.96, 0.966, 0.97, 0.969, 0.965])
    by_load = dict(zip(loads, values, strict=True))
    assert sum(by_load[load] * share for load, share in EUROPEAN) == pytest.approx(0.96430)
    assert sum(by_load[load] * share for load, share in CEC) == pytest.approx(0.96724)
    assert sum(share for _load, share in EUROPEAN) == pytest.approx(1.0)
    assert sum(share for _load, share in CEC) == pytest.approx(1.0)
    curve = curve_from_table(loads, np.array([600.0]), values[None, :], 10_000.0)
    assert weighted_efficiency(curve.coefficients[0], EUROPEAN) == pytest.approx(0.9643, abs=2e-3)
    assert weighted_efficiency(curve.coefficients[0], CEC) == pytest.approx(0.96724, abs=2e-3)


def test_a_curve_from_weighted_figures_has_them():
    curve = curve_from_weighted(0.975, 0.9765, 0.981, 0.5, 10_000.0, 600.0)
    assert weighted_efficiency(curve.coefficients[0], EUROPEAN) == pytest.approx(0.975, abs=1e-3)
    p_dc = np.linspace(50.0, 10_000.0, 400)[:, None]
    efficiency = ac_power(curve, p_dc, np.full_like(p_dc, 600.0)).p_ac / p_dc[:, 0]
    assert efficiency.max() == pytest.approx(0.981, abs=1e-3)
    assert (efficiency < 1.0).all()
    assert curve.shape_assumed


def test_measured_efficiencies_are_met_by_the_fitted_curve():
    # Six loads at three voltages, several runs each; Sandia, in pvlib's source archive.
    path = archive("pvlib==0.16.1") / "tests" / "data" / "inverter_fit_snl_meas.csv"
    table = pd.read_csv(path)
    nominal = float(table["ac_power"].max())
    means = table.groupby(["dc_voltage_level", "fraction_of_rated_power"]).mean(numeric_only=True)
    rows = means["efficiency"].unstack()
    volts = means["dc_voltage"].unstack().mean(axis=1).sort_values()
    loads = rows.columns.to_numpy()
    curve = curve_from_table(loads, volts.to_numpy(), rows.loc[volts.index].to_numpy(), nominal)
    assert curve.worst_residual < 0.006
    for _, point in means.iterrows():
        p_dc = point["ac_power"] / point["efficiency"]
        found = converted(curve, [p_dc], [point["dc_voltage"]])
        assert found == pytest.approx(point["ac_power"], rel=0.01)


def test_voltages_outside_the_table_are_clamped_and_counted():
    loads = np.array([0.1, 0.5, 1.0])
    table = np.array([[0.94, 0.96, 0.955], [0.95, 0.97, 0.965]])
    curve = curve_from_table(loads, np.array([400.0, 700.0]), table, 5000.0)
    p_dc = np.array([[2000.0], [2000.0], [0.0]])
    found = ac_power(curve, p_dc, np.array([[300.0], [500.0], [0.0]]))
    assert found.clamped.tolist() == [True, False, False]
    low = ac_power(curve, p_dc[:1], np.array([[400.0]])).p_ac[0]
    assert found.p_ac[0] == low


def test_derating_is_flat_then_falls_and_is_continuous():
    table = np.array([[45.0, np.nan, 10_000.0], [60.0, np.nan, 6000.0]])
    temperatures = np.linspace(-20.0, 70.0, 901)
    found = derated_power(temperatures, np.full(901, 600.0), table, 10_000.0)
    assert (found[temperatures <= 45.0] == 10_000.0).all()
    assert (np.diff(found) <= 0.0).all()
    assert np.abs(np.diff(found)).max() < 50.0
    assert found[np.searchsorted(temperatures, 52.5)] == pytest.approx(8000.0, abs=30.0)


def test_derating_by_voltage_and_altitude():
    table = np.array(
        [
            [40.0, 600.0, 10_000.0],
            [60.0, 600.0, 8000.0],
            [40.0, 800.0, 9000.0],
            [60.0, 800.0, 5000.0],
        ]
    )
    found = derated_power(np.array([50.0]), np.array([700.0]), table, 10_000.0)
    assert found[0] == pytest.approx((9000.0 + 7000.0) / 2.0)
    left = thin_air_factor(3000.0, 2000.0, 1.0)
    thin = derated_power(np.array([50.0]), np.array([600.0]), table, 10_000.0, left)
    assert thin[0] == pytest.approx(9000.0 * 0.9)


def test_altitude_alone_lowers_the_nominal_power():
    # 4 % per 100 m above 1,000 m leave 64 % at 1,900 m; below the altitude nothing is lost.
    assert thin_air_factor(1900.0, 1000.0, 4.0) == pytest.approx(0.64)
    assert thin_air_factor(900.0, 1000.0, 4.0) == 1.0
    assert thin_air_factor(9000.0, 1000.0, 4.0) == 0.0
    no_curve = np.empty((0, 3))
    hours = np.array([-10.0, 50.0]), np.array([600.0, 600.0])
    assert derated_power(*hours, no_curve, 8000.0, 0.64).tolist() == [5120.0, 5120.0]
    assert np.isinf(derated_power(*hours, no_curve, 8000.0)).all()


def test_an_unknown_row_is_refused():
    with pytest.raises(InputError, match="a row of the bundled inverter list"):
        curve_from_list_row("no such thing at all")
