"""The page of results on a stage: made by its notebook, and put in place together with them."""

from __future__ import annotations

import logging
from argparse import Namespace
from pathlib import Path

import yieldkit
from yieldkit.base.staging import Stage
from yieldkit.cli.chosen import named_site
from yieldkit.cli.speech import Bars, caution
from yieldkit.report.page.paper import NotPrinted, print_page


def notebook_parameters(options: Namespace, stage: Stage) -> dict[str, str | bool]:
    """Return what a notebook is told: the site, where its results lie, and whether in shadow.

    Parameters
    ----------
    options : Namespace
        Of the command.
    stage : Stage
        Where the results lie.
    """
    quiet_kernels()
    return {
        "site_file": named_site(options),
        "results_dir": str(stage.folder.resolve()),
        "obstacles": not options.without_obstacles,
    }


def quiet_kernels() -> None:
    """Keep a notebook that is stopped from complaining of the task it leaves behind."""
    logging.getLogger("asyncio").setLevel(logging.CRITICAL)


def page_of_results(
    options: Namespace, stage: Stage, notebook: str, *, on_paper: bool = False
) -> tuple[Path, ...]:
    """Make the page of results and put all in place, the results alone where it fails.

    Parameters
    ----------
    options : Namespace
        Of the command.
    stage : Stage
        Where the results lie.
    notebook : str
        Name of the notebook.
    on_paper : bool
        Print it to PDF as well; where no browser does, that is told and the page stays.

    Returns
    -------
    tuple of Path
        The page, and the PDF where it was asked for and made.
    """
    given = notebook_parameters(options, stage)
    try:
        with Bars() as bars:
            page = yieldkit.run_report(
                notebook, given, stage.target, stage=stage, progress=bars.show
            )
        return (page, *_printed(page, stage)) if on_paper else (page,)
    finally:
        # The results are whole, and an earlier report must not stand for them.
        stage.put()


def _printed(page: Path, stage: Stage) -> tuple[Path, ...]:
    """Print a page that is on the stage; return the PDF, or nothing and say why."""
    paper = page.with_suffix(".pdf")
    try:
        print_page(stage.folder / page.name, stage.folder / paper.name)
    except NotPrinted as error:
        caution([str(error)])
        return ()
    return (paper,)
