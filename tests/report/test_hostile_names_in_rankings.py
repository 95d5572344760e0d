"""Hostile names stay text in the proposal's tables, figures, terminal and table files."""

import csv
import io

import pytest

from tests.report.hostile import chunks, hostile_site
from tests.report.pages import seen
from tests.report.test_hostile_names import ATTRIBUTES, TAGS
from tests.study.sites import demo, weather
from yieldkit.config.site.files import read_site_text, site_text
from yieldkit.config.site.written_back import with_wirings
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.report.figures import ranking as figures_propose
from yieldkit.report.figures import roof
from yieldkit.report.tables import ranking as tables_propose
from yieldkit.report.tables.terminal_ranking import proposal_text
from yieldkit.study.ranking.proposal import weigh
from yieldkit.study.ranking.propose import propose
from yieldkit.study.results.ranking import save_ranking
from yieldkit.study.uncertainty.verdict import SAME_PERCENT

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def hostile():
    """Return a small proposal of the demonstration site for every bundle of hostile names."""
    june = weather().isel(time=slice(3600, 3900))
    constraints = Constraints(leave_at_most=0, shortest=7, longest=14)
    found = []
    for name in chunks():
        ranking = propose(hostile_site(demo(), name), constraints, june)
        found.append(weigh(ranking, 3, draws=2))
    return found


@pytest.mark.parametrize("number", range(len(chunks())))
def test_the_page_holds_only_our_own_markup(hostile, number):
    proposal = hostile[number]
    pieces = [
        tables_propose.answer_box(proposal),
        tables_propose.best_table(proposal),
        tables_propose.strings_table(proposal),
        tables_propose.judgement_table(proposal),
        tables_propose.counts_list(proposal),
        figures_propose.ranking_picture(proposal),
        figures_propose.draws_picture(proposal),
        roof.roof_picture(
            proposal.ranking.prepared.site, proposal.layouts[0], proposal.best[0].name
        ),
        roof.roof_table(proposal.layouts[0]),
    ]
    parsed = seen("".join(piece._repr_html_() for piece in pieces))
    assert all(TAGS.fullmatch(tag) for tag, _ in parsed.tags)
    assert all(ATTRIBUTES.fullmatch(key) for _, attrs in parsed.tags for key in attrs)


@pytest.mark.parametrize("number", range(len(chunks())))
def test_terminal_and_table_hold_text_only(hostile, number, tmp_path):
    text = proposal_text(hostile[number])
    assert "\x1b" not in text
    path = save_ranking(hostile[number].ranking, tmp_path)
    for row in csv.reader(io.StringIO(path.read_text(encoding="utf-8"))):
        assert not any(cell.startswith(("=", "@", "+")) for cell in row)


def test_written_back_names_are_read_again_as_they_were():
    for name in chunks():
        wiring = demo().wirings[0].model_copy(update={"name": name.strip()})
        again = read_site_text(with_wirings(site_text(), [wiring]))
        assert again.wirings[-1].name == name.strip()


def test_the_band_of_equal_differences_is_that_of_the_verdict(hostile):
    axes = figures_propose.draws_picture(hostile[0]).figure.axes[0]
    spans = [(bar.get_x(), bar.get_width()) for bar in axes.patches]
    assert spans[-1] == (-SAME_PERCENT, 2.0 * SAME_PERCENT)
