"""A walk through a house: every command, from another working directory, as a stranger would."""

import contextlib
import io
import json
import subprocess
import sys
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import pandas as pd
import xarray as xr

from tests.street import oracle, oracle_joint
from tests.street.houses import House, build, house
from yieldkit.cli.main import main

_OWN = "../site.yaml"


@dataclass(frozen=True)
class Said:
    """What a command left behind: exit code, answer and remarks."""

    code: int
    out: str
    err: str


def run(arguments: list[str], where: Path) -> Said:
    """Run a command in a working directory and keep what it says."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.chdir(where), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(arguments)
    return Said(code, out.getvalue(), err.getvalue())


def run_apart(arguments: list[str], where: Path) -> Said:
    """Run a command as a process of its own and keep what it says."""
    done = subprocess.run(
        [sys.executable, "-m", "yieldkit", *arguments],
        cwd=where,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    return Said(done.returncode, done.stdout, done.stderr)


class Walk:
    """A house, what every command said in it, and the second opinion; each made when asked for."""

    def __init__(self, folder: str, into: Path) -> None:
        self.house: House = house(folder)
        self.site_file, self.table = build(self.house, into)
        self.elsewhere = self.site_file.parent / "a desk elsewhere"
        self.elsewhere.mkdir()
        self.site = oracle.read_site(self.site_file)

    def __call__(self, command: str, *options: str, site: str = _OWN) -> Said:
        """Run a command on the house from the other working directory."""
        runs = run_apart if command == self.house.apart and site == _OWN else run
        return runs([command, site, *options], self.elsewhere)

    @cached_property
    def checked(self) -> Said:
        """The check of all wirings, as JSON."""
        return self("check", "--json")

    @cached_property
    def findings(self) -> pd.DataFrame:
        """Findings of all wirings: wiring, check, subject, verdict, value, limit ..."""
        return pd.DataFrame(json.loads(self.checked.out)["findings"])

    @cached_property
    def compared(self) -> Said:
        """The comparison."""
        report = [] if self.house.report else ["--no-report"]
        return self("compare", "--out", "compared", *report)

    @cached_property
    def proposed(self) -> Said:
        """The proposal, its best written into a copy of the site file."""
        report = [] if self.house.report else ["--no-report"]
        options = ["--out", "proposed", "--top", "2", "--draws", "0", "--save-site", "../best.yaml"]
        return self("propose", *options, *self.house.wishes, *report)

    @cached_property
    def simulated(self) -> dict[str, Said]:
        """The simulation of each wiring, by its name."""
        names = [wiring["name"] for wiring in self.site["wirings"]]
        return {name: self("simulate", "--wiring", name, "--out", "simulated") for name in names}

    @cached_property
    def results(self) -> dict[str, xr.Dataset]:
        """What was saved of each wiring, by its name."""
        found = {}
        for name, said in self.simulated.items():
            assert said.code == 0, said.err
            saved = next(line[7:] for line in said.out.splitlines() if line.endswith(".nc"))
            found[name] = xr.load_dataset(self.elsewhere / saved)
        return found

    @cached_property
    def roofs(self) -> oracle.Roofs:
        """The second opinion on sun, planes and modules."""
        return oracle.roofs(self.site, self.table)

    @cached_property
    def years(self) -> dict[str, oracle.Year | oracle_joint.JointYear]:
        """The second opinion on each wiring's year, by its name."""
        opinion = oracle_joint if "inverters" in self.site else oracle
        return {w["name"]: opinion.year(self.roofs, w) for w in self.site["wirings"]}
