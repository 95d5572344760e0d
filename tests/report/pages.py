"""A page as a browser's parser sees it, and the notebook's page made in this process."""

import html.parser

import IPython.display
import nbformat

from yieldkit.base.shipped import shipped
from yieldkit.report.page.page import page_of

VOID = {"meta", "img", "br", "hr", "input", "link", "base", "source"}


class Seen(html.parser.HTMLParser):
    """Collects tags with their attributes and the text between them."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.tags = []
        self.texts = []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.texts.append(data)

    def all(self, tag):
        """Return the attributes of every tag of a kind."""
        return [attrs for name, attrs in self.tags if name == tag]


def seen(page):
    """Return a page's tags and texts."""
    parser = Seen()
    parser.feed(page)
    parser.close()
    return parser


def page_in_process(monkeypatch, comparison):
    """Run the shipped notebook's cells here on a comparison that is there; return its page."""
    monkeypatch.setattr("yieldkit.config.site.files.load_site", lambda path: comparison.site)
    monkeypatch.setattr("yieldkit.study.comparison.compare.compare", lambda site: comparison)
    return _page(monkeypatch, "compare_wirings.ipynb", "Comparison of wirings")


def proposal_in_process(monkeypatch, ranking, top=3, draws=8):
    """Run the cells of the proposal's notebook on a ranking that is there; return its page."""
    monkeypatch.setattr("yieldkit.config.site.files.load_site", lambda path: ranking.site)
    monkeypatch.setattr("yieldkit.study.ranking.propose.propose", lambda *asked, **more: ranking)
    given = {"top": top, "draws": draws}
    return _page(monkeypatch, "propose_wirings.ipynb", "Proposed wirings", given)


def what_if_in_process(monkeypatch, found):
    """Run the cells of the batch's notebook on runs that are there; return its page."""
    monkeypatch.setattr("yieldkit.study.batch.what_if.what_if", lambda folder: found)
    return _page(monkeypatch, "what_if.ipynb", "What-if runs")


def estimate_in_process(monkeypatch, site, found):
    """Run the cells of the estimate's notebook on an estimate that is there; return its page."""
    monkeypatch.setattr("yieldkit.config.site.files.load_site", lambda path: site)
    monkeypatch.setattr("yieldkit.study.estimate.estimate.estimate", lambda *asked: found)
    return _page(monkeypatch, "estimate.ipynb", "Likely and cautious year")


def offer_in_process(monkeypatch, site, found):
    """Run the cells of the offer's notebook on an estimate that is there; return its page."""
    monkeypatch.setattr("yieldkit.config.site.files.load_site", lambda path: site)
    monkeypatch.setattr("yieldkit.study.estimate.estimate.estimate", lambda *asked: found)
    return _page(monkeypatch, "offer.ipynb", "Offer")


def handover_in_process(monkeypatch, site, sheet):
    """Run the cells of the handover's notebook on a sheet that is there; return its page."""
    monkeypatch.setattr("yieldkit.config.site.files.load_site", lambda path: site)
    monkeypatch.setattr("yieldkit.study.handover.handover.handover", lambda *asked: sheet)
    return _page(monkeypatch, "handover.ipynb", "Handover sheet")


def review_in_process(monkeypatch, site, found):
    """Run the cells of the first year's notebook on a review that is there; return its page."""
    monkeypatch.setattr("yieldkit.config.site.files.load_site", lambda path: site)
    monkeypatch.setattr("yieldkit.study.results.saved.load", lambda *asked: found)
    return _page(monkeypatch, "first_year.ipynb", "First year", {"results_dir": "saved"})


def _page(monkeypatch, name, title, given=None):
    """Run a notebook's cells in this process, its parameters changed after the first."""
    content = nbformat.read(shipped("notebooks", name), as_version=4)
    shown = []
    monkeypatch.setattr(IPython.display, "display", lambda *parts: shown.extend(parts))
    scope = {}
    for number, cell in enumerate(content.cells):
        if cell.cell_type == "code":
            shown.clear()
            exec(compile(cell.source, "notebook", "exec"), scope)
            if number == 0:
                scope.update(given or {})
            cell.outputs = [
                nbformat.v4.new_output("display_data", {"text/html": part._repr_html_()})
                for part in shown
            ]
    return page_of(content, title, "run-1")
