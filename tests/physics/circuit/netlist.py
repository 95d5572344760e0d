"""The same circuits as netlists for the circuit simulator ngspice, run as a batch process.

Diodes, resistors and current sources; Bishop's term as a behavioural source. Each string hangs
on the swept source behind an ammeter of its own, so that ideal blocking (no reverse current, no
drop) can be read from the strings' currents.
"""

from __future__ import annotations

import subprocess
from pathlib import Path

import numpy as np

from yieldkit.physics.circuit.api import Breakdown, default_bypass

KELVIN = 298.15
N_VTH = 1.380649e-23 * KELVIN / 1.602176634e-19


class Netlist:
    """Lines of a netlist, with models numbered as they are asked for."""

    def __init__(self) -> None:
        self.lines = ["* strings in parallel"]
        self.meters: list[str] = []
        self.models: dict[tuple[float, float], str] = {}
        self.nodes = 0

    def node(self) -> str:
        """Return a new node."""
        self.nodes += 1
        return f"n{self.nodes}"

    def model(self, saturation: float, n_vth: float) -> str:
        """Return the diode model of a saturation current and n Vth."""
        key = (float(saturation), float(n_vth))
        return self.models.setdefault(key, f"d{len(self.models) + 1}")

    def add(self, kind: str, rest: str) -> None:
        """Add an element."""
        self.lines.append(f"{kind}{len(self.lines)} {rest}")

    def cells(self, plus: str, minus: str, row: np.ndarray, breakdown: Breakdown | None) -> None:
        """Add cells between two nodes: source, diode, shunt, series resistance."""
        il, i0, rs, rsh, a = (float(each) for each in row)
        inner = self.node()
        self.add("I", f"{minus} {inner} dc {il:.15g}")
        self.add("D", f"{inner} {minus} {self.model(i0, a)}")
        self.add("R", f"{inner} {minus} {rsh:.15g}")
        self.add("R", f"{inner} {plus} {rs:.15g}")
        if breakdown is not None:
            self.add(
                "B",
                f"{inner} {minus} I=V({inner},{minus})/{rsh:.15g}*{breakdown.factor:.15g}"
                f"*pow(abs(1-V({inner},{minus})/({breakdown.voltage:.15g})),"
                f"{-breakdown.exponent:.15g})",
            )

    def group(self, plus, minus, here, run, breakdown) -> None:
        """Add a cell group, or two half-cut groups, under one bypass diode."""
        bypass = default_bypass()
        if run.partner is None:
            self.cells(plus, minus, here[run.condition], breakdown)
        else:
            for condition in (run.condition, run.partner):
                row = here[condition] * np.array([0.5, 0.5, 2.0, 2.0, 1.0])
                self.cells(plus, minus, row, breakdown)
        self.add("D", f"{minus} {plus} {self.model(bypass.saturation_current, bypass.n_vth)}")

    def string(self, here, string, breakdown) -> None:
        """Add a string between the tracker's input and ground."""
        top = self.node()
        self.meters.append(f"Vmeter{len(self.meters)}")
        self.lines.append(f"{self.meters[-1]} in {top} dc 0")
        node = top
        if string.resistance > 0.0:
            node = self.node()
            self.add("R", f"{node} {top} {string.resistance:.15g}")
        groups = [run for run in string.runs for _ in range(run.count)]
        for place, run in enumerate(groups):
            below = "0" if place == len(groups) - 1 else self.node()
            self.group(node, below, here, run, breakdown)
            node = below

    def text(self, low: float, high: float, points: int, output: Path) -> str:
        """Return the whole netlist, with a sweep of the input's voltage."""
        models = [
            f".model {name} D(IS={saturation:.15g} N={n_vth / N_VTH:.15g} TNOM=25)"
            for (saturation, n_vth), name in self.models.items()
        ]
        options = ".options TEMP=25 TNOM=25 GMIN=1e-15 RELTOL=1e-7 ABSTOL=1e-11 VNTOL=1e-8 ITL2=400"
        control = [
            ".control",
            "set numdgt=12",
            "set wr_singlescale",
            f"dc Vin {low:.12g} {high:.12g} {(high - low) / points:.12g}",
            f"wrdata {output} " + " ".join(f"i({meter})" for meter in self.meters),
            ".endc",
            ".end",
        ]
        return "\n".join([*self.lines, "Vin in 0 dc 0", *models, options, *control, ""])


def sweep(ngspice, here, strings, breakdown, span, points, folder):
    """Return voltages [V] and currents [A] of a tracker as the simulator finds them.

    `span` is the lowest and the highest voltage of the sweep.
    """
    netlist = Netlist()
    for string in strings:
        netlist.string(here, string, breakdown)
    source, output = Path(folder) / "tracker.cir", Path(folder) / "curve.txt"
    output.unlink(missing_ok=True)
    source.write_text(netlist.text(*span, points, output))
    done = subprocess.run(
        [ngspice, "-b", str(source)], capture_output=True, text=True, timeout=60, check=False
    )
    if not output.is_file():
        raise RuntimeError(f"ngspice gave no curve:\n{done.stdout}\n{done.stderr}")
    volts, *meters = np.loadtxt(output).T
    blocked = [string.blocking_diode for string in strings]
    # The meters count what flows into the strings.
    each = [
        np.maximum(-amps, 0.0) if stop else -amps
        for amps, stop in zip(meters, blocked, strict=True)
    ]
    return volts, np.sum(each, axis=0)
