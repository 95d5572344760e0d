"""Running a notebook into a page: whole or not at all, and the last good page survives."""

import json
import sys

import nbformat
import papermill
import pytest

from tests.report.notebooks import saved
from yieldkit.base.errors import InputError
from yieldkit.base.files import damaged
from yieldkit.base.staging import staged
from yieldkit.report.page import notebook as runner
from yieldkit.report.page.notebook import ReportFailed, run_report

pytestmark = pytest.mark.slow

SHOWS = "from IPython.display import HTML, display\ndisplay(HTML('<h1>' + word + '</h1>'))"
NAMES = ("page.html", "written.sha256")


def test_page_is_written_with_the_given_parameters(tmp_path, monkeypatch):
    names = "word = 'default'\nout_dir = ''\nsite_file = ''\nfolder = ''"
    path = saved(tmp_path / "book.ipynb", names, SHOWS, "print(out_dir, site_file, [folder])")
    out = tmp_path / "out"
    monkeypatch.chdir(tmp_path)
    given = {"word": "given", "site_file": "own/roof.yaml", "folder": ""}
    page = run_report(path, given, out, name="page")
    text = page.read_text(encoding="utf-8")
    assert page == out / "page.html"
    assert "<h1>given</h1>" in text
    assert "default<" not in text
    assert str(out) in text
    # Paths count from where the caller is, not from the folder in which the notebook runs.
    assert f"{tmp_path / 'own' / 'roof.yaml'} [" in text
    assert "display(HTML" not in text
    assert sorted(each.name for each in out.iterdir()) == sorted(NAMES)
    assert damaged(out) == ()


def test_failed_cell_keeps_the_last_good_page_and_the_failed_notebook(tmp_path):
    good = saved(tmp_path / "good.ipynb", "word = 'first'", SHOWS)
    bad = saved(
        tmp_path / "bad.ipynb", "word = ''", SHOWS, "raise ValueError('no light in ' + word)"
    )
    page = run_report(good, {}, tmp_path / "out", name="page")
    before = page.read_bytes()
    with pytest.raises(ReportFailed, match="ValueError: no light in second") as caught:
        run_report(bad, {"word": "second"}, tmp_path / "out", name="page")
    failed = tmp_path / "out" / "page-failed.ipynb"
    assert str(failed) in str(caught.value)
    assert page.read_bytes() == before
    kept = nbformat.read(failed, as_version=4)
    assert "error" in kept.cells[0].source.lower()
    assert any(out.get("ename") == "ValueError" for c in kept.cells for out in c.get("outputs", []))
    run_report(good, {"word": "third"}, tmp_path / "out", name="page")
    assert "<h1>third</h1>" in page.read_text(encoding="utf-8")
    assert not failed.exists()


def test_kernel_killed_on_the_way_is_not_started_again(tmp_path):
    path = saved(
        tmp_path / "book.ipynb",
        "count = 0",
        f"with open({str(tmp_path / 'mark')!r}, 'a') as stream:\n    stream.write(f'x{{count}}')",
        "import os, signal\nos.kill(os.getpid(), signal.SIGKILL)",
    )
    with pytest.raises(ReportFailed, match="kernel died on the way"):
        run_report(path, {}, tmp_path / "out", name="page")
    assert (tmp_path / "mark").read_text() == "x0"
    assert (tmp_path / "out" / "page-failed.ipynb").is_file()
    assert not (tmp_path / "out" / "page.html").exists()


def test_kernel_that_does_not_start_is_tried_three_times(tmp_path, monkeypatch):
    path = saved(tmp_path / "book.ipynb", "word = 'x'", SHOWS)
    tries = []
    execute = papermill.execute_notebook

    def twice_refused(*given, **settings):
        tries.append(settings["kernel_name"])
        if len(tries) < 3:
            raise RuntimeError("Kernel died before replying to kernel_info")
        return execute(*given, **settings)

    monkeypatch.setattr(runner.papermill, "execute_notebook", twice_refused)
    page = run_report(path, {}, tmp_path / "out")
    assert tries == ["python3"] * 3
    assert page.is_file()


def test_kernel_that_never_starts_is_told(tmp_path, monkeypatch):
    path = saved(tmp_path / "book.ipynb", "word = 'x'", SHOWS)

    def refused(*given, **settings):
        raise RuntimeError("Kernel died before replying")

    monkeypatch.setattr(runner.papermill, "execute_notebook", refused)
    with pytest.raises(ReportFailed, match=r"did not start in 3 tries: Kernel died before"):
        run_report(path, {}, tmp_path / "out")
    assert list((tmp_path / "out").iterdir()) == []


def test_what_a_kernel_says_while_it_starts_stays_off_the_terminal(tmp_path, monkeypatch, capfd):
    (tmp_path / "sitecustomize.py").write_text("import sys\nprint('noise', file=sys.stderr)\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    path = saved(tmp_path / "book.ipynb", "word = 'x'", SHOWS)
    assert run_report(path, {}, tmp_path / "out").is_file()
    assert capfd.readouterr() == ("", "")


def test_the_notebooks_own_kernel_name_does_not_matter(tmp_path):
    path = saved(tmp_path / "book.ipynb", "word = 'x'", SHOWS)
    content = nbformat.read(path, as_version=4)
    content.metadata["kernelspec"] = {"name": "a-colleagues-own", "display_name": "x"}
    nbformat.write(content, path)
    assert "<h1>x</h1>" in run_report(path, {}, tmp_path / "out").read_text(encoding="utf-8")


def test_bad_parameters_stop_before_the_kernel_and_before_any_file(tmp_path, monkeypatch):
    path = saved(tmp_path / "book.ipynb", "word = 'x'", SHOWS)
    monkeypatch.setattr(runner.papermill, "execute_notebook", lambda *_, **__: pytest.fail("ran"))
    with pytest.raises(InputError, match="Did you mean 'word'"):
        run_report(path, {"wrod": "y"}, tmp_path / "out")
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    "content", [b"", b"no json", b"\xff\xfe", b"[]", b"{}", b'{"nbformat": 4}', b'{"cells": []}']
)
def test_a_file_that_is_no_notebook_is_refused(content, tmp_path):
    path = tmp_path / "book.ipynb"
    path.write_bytes(content)
    with pytest.raises(
        InputError, match=r"book\.ipynb: got (a file that holds no notebook|0 code)"
    ):
        run_report(path, {}, tmp_path / "out")


def test_a_missing_notebook_is_refused_with_the_nearest_name(tmp_path):
    with pytest.raises(InputError, match=r"Did you mean 'compare_wirings\.ipynb'"):
        run_report("compare_wiring.ipynb", {}, tmp_path)


def test_values_that_look_like_code_arrive_as_text(tmp_path):
    word = "'''\"\\\"; raise SystemExit(3) #\n{{1+1}} $x$ \\n"
    path = saved(
        tmp_path / "book.ipynb", "word = ''\nhex_of = ''", "assert word.encode().hex() == hex_of"
    )
    run_report(path, {"word": word, "hex_of": word.encode().hex()}, tmp_path / "out")


def test_the_notebook_runs_on_our_python_whatever_kernels_are_offered(tmp_path, monkeypatch):
    offered = tmp_path / "share" / "kernels" / "python3"
    offered.mkdir(parents=True)
    spec = {"argv": ["/bin/false", "{connection_file}"], "display_name": "x", "language": "python"}
    (offered / "kernel.json").write_text(json.dumps(spec))
    monkeypatch.setenv("JUPYTER_PATH", str(tmp_path / "share"))
    path = saved(
        tmp_path / "book.ipynb", "word = 'x'", SHOWS + "\nimport sys\nprint(sys.executable)"
    )
    page = run_report(path, {}, tmp_path / "out").read_text(encoding="utf-8")
    assert f"{sys.executable}\n" in page


@pytest.mark.parametrize(
    ("raised", "error", "wanted"),
    [
        ("MemoryError('Unable to allocate 7 GiB')", MemoryError, "allocate 7 GiB"),
        ("OSError(28, 'No space left on device', 'a.nc')", OSError, "No space left on device"),
        ("OSError(27, 'File too large')", OSError, "File too large"),
    ],
)
def test_what_a_notebook_runs_short_of_is_raised_as_such(raised, error, wanted, tmp_path):
    path = saved(tmp_path / "book.ipynb", "word = 'x'", "print(word)", f"raise {raised}")
    with pytest.raises(error, match=wanted):
        run_report(path, {}, tmp_path / "out", name="page")


def test_a_page_made_on_a_stage_bears_its_run_and_waits_for_the_others(tmp_path):
    good = saved(tmp_path / "good.ipynb", "word = 'x'\nrun_id = ''", SHOWS, "print(run_id)")
    bad = saved(tmp_path / "bad.ipynb", "word = 'x'", "print(word)", "raise ValueError(word)")
    out = tmp_path / "out"
    with staged(out, "compare", ("page.html",), "run-7") as stage:
        assert run_report(good, {}, out, name="page", stage=stage) == out / "page.html"
        assert not (out / "page.html").exists()
        stage.put()
    text = (out / "page.html").read_text(encoding="utf-8")
    assert '<meta name="run" content="run-7">' in text
    assert "run-7</pre>" in text.replace("\n", "")
    with staged(out, "compare", ("page.html",), "run-8") as stage:
        with pytest.raises(ReportFailed, match="ValueError: x") as caught:
            run_report(bad, {}, out, name="page", stage=stage)
        assert str(out / "page-failed.ipynb") in str(caught.value)
        stage.put()
    names = {each.name for each in out.iterdir()}
    assert names == {"page-failed.ipynb", "compare-manifest.json", "written.sha256"}
