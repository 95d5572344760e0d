"""What the pages of a house are asked: the answer in the first screen, one run in all files."""

import json
import re

import pandas as pd
import xarray as xr


def first_screen(page):
    """Return the words of a page before its first chapter."""
    head = page[page.index("<main>") : page.index("<h2")]
    return " ".join(re.sub(r"<[^>]*>", " ", head).split())


def runs(folder):
    """Return the runs that a folder's pages, results, tables and other records bear, by kind."""
    found = {".html": set(), ".nc": set(), ".csv": set(), ".json": set()}
    for path in folder.iterdir():
        if path.suffix == ".html":
            page = path.read_text(encoding="utf-8")
            found[".html"] |= set(re.findall(r'<meta name="run" content="([^"]+)">', page))
            found[".html"] |= set(re.findall(r"Made by [^<]*, run ([^<. ]+)", page))
        elif path.suffix == ".nc":
            with xr.open_dataset(path) as result:
                found[".nc"].add(result.attrs["run"])
        elif path.suffix == ".csv":
            found[".csv"] |= set(pd.read_csv(path)["run"])
        elif path.suffix == ".json":
            found[".json"].add(json.loads(path.read_text(encoding="utf-8"))["run"])
    return found


def one_run_goes_through(folder, manifest):
    """Assert that every kind of file is there, and that all bear the same run."""
    assert (folder / manifest).is_file()
    found = runs(folder)
    assert len(set().union(*found.values())) == 1, found
    assert all(len(ids) == 1 for ids in found.values()), found


def the_comparison_has_its_page(walk):
    assert walk.compared.code == 0, walk.compared.err
    folder = walk.elsewhere / "compared"
    told = first_screen((folder / "compare_wirings.html").read_text(encoding="utf-8"))
    best = max(walk.results, key=lambda name: walk.results[name].attrs["energy_kwh"])
    assert best in told
    assert f"{walk.results[best].attrs['energy_kwh']:,.0f} kWh" in told
    one_run_goes_through(folder, "compare-manifest.json")


def the_proposal_has_its_page(walk):
    assert walk.proposed.code == 0, walk.proposed.err
    folder = walk.elsewhere / "proposed"
    told = first_screen((folder / "propose_wirings.html").read_text(encoding="utf-8"))
    row = next(line for line in walk.proposed.out.splitlines() if line.startswith("proposed 1 "))
    promised = row.removeprefix("proposed 1 ").split()[0]
    assert "proposed 1" in told
    assert f"{promised} kWh" in told
    one_run_goes_through(folder, "propose-manifest.json")


PAGE_CHECKS = (the_comparison_has_its_page, the_proposal_has_its_page)
