"""Power matrices of nine modules that a laboratory measured, and what is said of the fit.

IEC 61853-1 matrices and temperature runs, Sandia National Laboratories 2019, in the source archive
of pvpltools.
"""

import zipfile
from functools import cache
from xml.etree import ElementTree

import numpy as np
import pytest

from tests.archives import archive
from yieldkit.physics.module import datasheet
from yieldkit.physics.module.datasheet import Datasheet, fit_diode
from yieldkit.physics.module.fit import matrix_deviations, maximum_power
from yieldkit.physics.module.methods import METHODS

pytestmark = pytest.mark.slow

SHEETS = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
FILE = "examples/data/Sandia_PV_Module_P-Matrix-and-TempCo-Data_2019.xlsx"
CELLS = (96, 60, 60, 60, 60, 60, 60, 60, 72)


@cache
def measured(number):
    """Return a module's points: temperature, irradiance, Isc, Voc, Imp, Vmp, power (point, 7)."""
    with zipfile.ZipFile(archive("pvpltools==0.1.0") / FILE) as book:
        sheet = ElementTree.fromstring(book.read(f"xl/worksheets/sheet{number}.xml"))
    rows = []
    for row in sheet.iter(SHEETS + "row"):
        cells = [(cell.get("t"), cell.find(SHEETS + "v")) for cell in row]
        # The first cell is the module's name; headings are text all over.
        numbers = [float(v.text) for kind, v in cells[1:] if v is not None and kind != "s"]
        if len(numbers) == 7:
            rows.append(numbers)
        elif rows:
            break
    return np.array(rows)


def sheet_of(number, *, matrix):
    """Return a module's datasheet as measured, with its matrix or without."""
    points = measured(number)

    def at(temp, light):
        return points[(points[:, 0] == temp) & (points[:, 1] == light)][0]

    stc, hot = at(25, 1000), at(75, 1000)
    per_k = (hot - stc) / 50.0
    return Datasheet(
        name=f"module {number}",
        technology="mono-si",
        p_max=stc[6],
        v_oc=stc[3],
        i_sc=stc[2],
        v_mp=stc[5],
        i_mp=stc[4],
        cells_in_series=CELLS[number - 1],
        alpha_sc=per_k[2],
        beta_voc=per_k[3],
        gamma_pmp=per_k[6] / stc[6],
        power_matrix=tuple((p[1], p[0], p[6]) for p in points) if matrix else (),
    )


@pytest.mark.parametrize("number", range(1, 10))
def test_a_matrix_is_read_and_met_within_a_percent(number):
    sheet = sheet_of(number, matrix=True)
    fit = fit_diode(sheet)
    assert METHODS[fit.method].reads_matrix
    # One power after the other, not the array the fit itself uses.
    off = [maximum_power(fit.reference, g, t) / p - 1.0 for g, t, p in sheet.power_matrix]
    rms = 100.0 * float(np.sqrt(np.mean(np.square(off))))
    assert len(off) >= 22
    assert rms < 1.0
    assert (
        f"module {number}: its power matrix is met within {rms:.2f} % root mean square."
        in fit.assumptions
    )


def test_diodes_of_the_datasheet_alone_are_high_in_low_light():
    high = []
    for number in (3, 4, 8):
        fit = fit_diode(sheet_of(number, matrix=False))
        matrix = sheet_of(number, matrix=True).power_matrix
        off = matrix_deviations(fit.reference, matrix)
        high += [gap for gap, (light, *_) in zip(off, matrix, strict=True) if light <= 200.0]
    assert 0.02 < min(high) < max(high) < 0.10
    assert max(high) > 0.07


def test_a_method_that_never_reads_the_matrix_says_so_and_keeps_its_error(monkeypatch):
    only = {name: each for name, each in METHODS.items() if not each.reads_matrix}
    monkeypatch.setattr(datasheet, "METHODS", only)
    sheet = sheet_of(2, matrix=True)._replace(name="another")
    fit = fit_diode(sheet)
    gate = next(each for each in fit.gates if each.name == "matrix (root mean square)")
    assert gate.value == pytest.approx(0.0157, abs=0.001)
    assert fit.assumptions[-1] == (
        f"another: fitted by {fit.method}, which doesn't read the power matrix; the diode misses "
        f"it by {100.0 * gate.value:.2f} % root mean square."
    )
