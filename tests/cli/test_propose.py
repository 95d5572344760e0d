"""The command, its report, and proposals written back into a site file."""

import subprocess
import sys

import pytest

from tests.report.pages import seen
from tests.study.sites import demo
from yieldkit.base.errors import InputError
from yieldkit.cli.main import main
from yieldkit.config.site.files import read_site_text, site_text
from yieldkit.config.site.written_back import with_wirings
from yieldkit.design.permitted.constraints import constraints_from

pytestmark = pytest.mark.slow


def run(*arguments, folder):
    """Run the command in a folder."""
    return subprocess.run(
        [sys.executable, "-m", "yieldkit", "propose", *arguments],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


@pytest.fixture(scope="module")
def done(tmp_path_factory):
    """Return a folder with a report of the demonstration site, and what was printed."""
    folder = tmp_path_factory.mktemp("proposed")
    said = run(
        "--out", "rep", "--save-site", "mine.yaml", "--top", "4", "--draws", "8", folder=folder
    )
    return folder, said


def test_the_command_ranks_and_writes(done):
    folder, said = done
    assert said.returncode == 0, said.stderr
    assert "wirings with nothing forbidden this yields most" in " ".join(said.stdout.split())
    assert "No site file given" in said.stderr
    assert "Drawing what nobody knows, 8 times: is the best really better?" in said.stderr
    assert "Making the report (less than a minute)." in said.stderr
    assert "draws" in said.stdout
    for name in ("draws.nc", "proposal.json", "ranking.json"):
        assert (folder / "rep" / name).is_file()
    assert (folder / "rep" / "propose_wirings.html").is_file()
    table = (folder / "rep" / "ranking.csv").read_text(encoding="utf-8").splitlines()
    assert table[0].startswith("rank,energy_kwh")
    assert len(table) > 100


def test_the_report_answers_first_and_ends_with_cautions(done):
    folder, _said = done
    page = (folder / "rep" / "propose_wirings.html").read_text(encoding="utf-8")
    assert page.index("yields most") < page.index("The best wirings")
    assert "Is the difference real?" in page
    assert "design aid and not a certificate" in page
    assert "default-src" in page
    images = seen(page).all("img")
    assert images
    assert all("alt" in attrs for attrs in images)  # a strip of a tall picture repeats no words


def test_a_proposal_can_be_compared_with_the_hand_drawn_ones(done):
    folder, _said = done
    text = (folder / "mine.yaml").read_text(encoding="utf-8")
    site = read_site_text(text)
    names = [wiring.name for wiring in site.wirings]
    assert names[:4] == [wiring.name for wiring in demo().wirings]
    assert names[4] == "proposed 1"
    assert "# A demonstration site." in text


def test_a_taken_name_gets_a_number():
    wiring = demo().wirings[1]
    text = with_wirings(site_text(), [wiring, wiring])
    names = [each.name for each in read_site_text(text).wirings]
    assert names[-2:] == ["lopsided (2)", "lopsided (3)"]


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (("--keep-free", "MPPT 4"), "Did you mean 'MPPT"),
        (("--cross", "west roof,east rooff"), "Did you mean 'east roof'?"),
        (("--laid", "MPPT"), "an input in use in wiring"),
        (("--shortest", "9", "--longest", "3"), "9 to 3 modules"),
        (("--longest", "5"), "none that is permitted"),
        (("--draws", "-3"), "draws: got -3; expected 0 for none, or more. 64 is usual."),
        (("--top", "0"), "wirings to show: got 0; expected at least 1."),
        (("--most", "0"), "bound on the wirings: got 0; expected at least 1."),
        (("--strings", "0"), "strings on an input: got 0; expected at least 1, or nothing."),
        (("--shortest", "-3"), "shortest string: got -3; expected at least 1, or nothing."),
        (("--longest", "0"), "longest string: got 0; expected at least 1, or nothing."),
        (("--every-days", "40"), "every_days: got 40; expected 1 to 30."),
        (
            (
                "--most",
                "10",
            ),
            "more than 10 with nothing forbidden",
        ),
        (("--wiring", "lopsidet"), "Did you mean 'lopsided'?"),
    ],
)
def test_what_cant_be_answered_is_told_and_nothing_written(
    tmp_path, monkeypatch, capsys, arguments, sentence
):
    monkeypatch.chdir(tmp_path)
    assert main(["propose", *arguments, "--out", "rep"]) == 2
    told = capsys.readouterr().err
    assert sentence in told
    assert "Traceback" not in told
    assert not (tmp_path / "rep").exists()


def test_an_existing_site_file_is_not_touched(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "mine.yaml").write_text("mine")
    assert main(["propose", "--save-site", "mine.yaml", "--no-report"]) == 2
    assert "a file that exists" in capsys.readouterr().err
    assert (tmp_path / "mine.yaml").read_text() == "mine"


def test_an_unknown_wish_is_refused():
    with pytest.raises(InputError, match="'leave_ot'") as refused:
        constraints_from(demo(), {"leave_ot": 2})
    assert "Did you mean 'leave_out'?" in str(refused.value)
