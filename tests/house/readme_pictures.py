"""The two pictures of README, made from the demonstration.

Run `python -m tests.house.readme_pictures` to make them anew: the first page of the report as it is
printed, and the roof with the strings of the best wiring. It takes chromium and pdftoppm.
"""

import subprocess
import tempfile
from pathlib import Path

import yieldkit
from tests.house.layers import ROOT
from tests.oracles import require
from tests.report.browser import print_pdf
from yieldkit import report

FOLDER = ROOT / "notebooks" / "pictures"
FIRST_PAGE, ROOF = "first-page.png", "roof.png"
_DOTS_PER_INCH = 80


def first_page(folder: Path) -> None:
    """Save the first page of the demonstration's report."""
    page = yieldkit.run_report("compare_wirings.ipynb", {}, folder)
    print_pdf(page, folder / "page.pdf")
    command = (require("pdftoppm"), "-png", "-r", str(_DOTS_PER_INCH), "-f", "1", "-singlefile")
    subprocess.run([*command, str(folder / "page.pdf"), str(folder / "page")], check=True)
    (FOLDER / FIRST_PAGE).write_bytes((folder / "page.png").read_bytes())


def roof() -> None:
    """Save the roof with the strings of the wiring that yields most."""
    site = yieldkit.load_site()
    proposal = yieldkit.weigh(yieldkit.propose(site), top=1, draws=0)
    picture = report.roof_picture(site, proposal.layouts[0], proposal.best[0].name)
    picture.figure.savefig(FOLDER / ROOF, dpi=_DOTS_PER_INCH)


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as made:
        first_page(Path(made))
    roof()
