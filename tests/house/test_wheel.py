"""A wheel holds the folders that come with the package and works without the checkout."""

import os
import shutil
import subprocess
import sys
import zipfile

import pytest

from tests.house.layers import ROOT

pytestmark = pytest.mark.slow

SHIPPED = {
    "yieldkit/_data/notebooks/compare_wirings.ipynb",
    "yieldkit/_data/site_configs/demo.yaml",
    "yieldkit/_data/site_configs/starter.yaml",
    "yieldkit/_data/weather/typical-year-45n-8e.csv",
    "yieldkit/py.typed",
    "yieldkit/weather/minutes/README.md",
    "yieldkit/weather/minutes/payerne-june-2016.csv",
}


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory):
    """Return a folder with the contents of a wheel built from a copy of the tree."""
    base = tmp_path_factory.mktemp("wheel")
    copy = base / "copy"
    copy.mkdir()
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, copy)
    for name in ("yieldkit", "notebooks", "weather", "site_configs"):
        shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
    subprocess.run(
        [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(base)],
        cwd=copy,
        capture_output=True,
        timeout=120,
        check=True,
    )
    shutil.rmtree(copy)
    (wheel,) = base.glob("yieldkit-*.whl")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(base / "unpacked")
    return base / "unpacked"


def test_the_wheel_holds_what_the_package_needs_and_no_more(unpacked):
    found = {path.relative_to(unpacked).as_posix() for path in unpacked.rglob("*")}
    assert found >= SHIPPED
    top = {path.name for path in unpacked.iterdir()}
    assert {name for name in top if not name.endswith(".dist-info")} == {"yieldkit"}
    sources = {path.relative_to(ROOT).as_posix() for path in (ROOT / "yieldkit").rglob("*.py")}
    assert found >= sources
    assert not any("__pycache__" in name for name in found)


@pytest.mark.parametrize("command", [["compare", "--no-report"], ["new"], ["check"]])
def test_the_wheel_works_in_an_empty_folder_without_the_checkout(command, unpacked, tmp_path):
    done = subprocess.run(
        [sys.executable, "-m", "yieldkit", *command],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(unpacked)},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout


def test_the_wheel_finds_its_own_files(unpacked, tmp_path):
    program = "from yieldkit.base.shipped import shipped; print(shipped('weather', 'README.md'))"
    done = subprocess.run(
        [sys.executable, "-c", program],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(unpacked)},
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    assert done.stdout.strip() == str(unpacked / "yieldkit" / "_data" / "weather" / "README.md")
