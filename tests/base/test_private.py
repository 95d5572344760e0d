"""Folders of killed processes are swept by the next run; those of living ones never."""

import contextlib
import gc
import os
import shutil
import subprocess
import sys
import time

import pytest

from yieldkit.base import private_folders as private
from yieldkit.base import staging
from yieldkit.base.private_folders import private_folder, sweep_private
from yieldkit.base.staging import staged

pytestmark = pytest.mark.skipif(private.fcntl is None, reason="this system knows no such lock")

HOLDS = """
import sys, time
from yieldkit.base.private_folders import private_folder
with private_folder(sys.argv[1], "yieldkit-") as folder:
    (folder / "done.ipynb").write_text("half")
    print(folder, flush=True)
    time.sleep(120)
"""


@pytest.fixture
def holder(tmp_path):
    """Return a living process that holds a private folder, and the folder's name."""
    process = subprocess.Popen(
        [sys.executable, "-c", HOLDS, str(tmp_path)], stdout=subprocess.PIPE, text=True
    )
    yield process, process.stdout.readline().strip()
    process.kill()
    process.communicate()


def names(folder):
    """Return the names of what lies in a folder."""
    return [str(each) for each in folder.iterdir()]


def test_a_killed_process_leaves_a_folder_that_the_next_one_sweeps(holder, tmp_path):
    process, held = holder
    assert sweep_private(tmp_path, "yieldkit-") == 0
    assert names(tmp_path) == [held]
    process.kill()
    process.wait()
    assert names(tmp_path) == [held]
    with private_folder(tmp_path, "yieldkit-") as own:
        assert names(tmp_path) == [str(own)]
    assert names(tmp_path) == []


def test_a_living_holder_keeps_even_an_old_folder(holder, tmp_path):
    _, held = holder
    os.utime(held, (0, 0))
    assert sweep_private(tmp_path, "yieldkit-") == 0
    assert names(tmp_path) == [held]


def interrupted_at(step, folder):
    """Stage a file, interrupted at a line of the rooms that make and remove folders."""
    rooms = (private.__file__, staging.__file__, contextlib.__file__, shutil.__file__)
    left = [step]

    def at_line(_frame, event, _argument):
        left[0] -= event == "line"
        if left[0] == 0:
            sys.settrace(None)
            raise KeyboardInterrupt
        return at_line

    def at_call(frame, _event, _argument):
        return at_line if frame.f_code.co_filename in rooms else None

    # What an earlier interrupt left unfinished is finished before lines are counted.
    gc.collect()
    before = sys.gettrace()
    sys.settrace(at_call)
    try:
        with staged(folder, "trial") as stage:
            (stage.folder / "half").write_text("half")
    except (KeyboardInterrupt, OSError):
        # Python's own removal closes a file twice where it is interrupted after the first time.
        return True
    finally:
        sys.settrace(before)
    return False


def test_an_interrupt_at_any_line_leaves_no_private_folder_behind(tmp_path):
    step = 1
    while interrupted_at(step, tmp_path):
        private.remove_given()
        assert names(tmp_path) == [], f"interrupted at line event {step}"
        step += 1
    assert step > 50


def test_a_folder_that_names_no_process_goes_after_a_day(tmp_path):
    unknown = tmp_path / "yieldkit-abc"
    unknown.mkdir()
    assert sweep_private(tmp_path, "yieldkit-") == 0
    yesterday = time.time() - 25 * 3600
    os.utime(unknown, (yesterday, yesterday))
    assert sweep_private(tmp_path, "yieldkit-") == 1


def test_files_links_and_other_peoples_folders_stay(tmp_path):
    (tmp_path / "yieldkit-1-0123456789ab").write_text("a file")
    (tmp_path / "other-999999-0123456789ab").mkdir()
    (tmp_path / "yieldkit-999999-0123456789ab").symlink_to(tmp_path / "other-999999-0123456789ab")
    assert sweep_private(tmp_path, "yieldkit-") == 0
    assert len(names(tmp_path)) == 3
    assert sweep_private(tmp_path / "nowhere", "yieldkit-") == 0


def test_a_folder_that_another_run_sweeps_at_the_same_time_is_no_error(tmp_path, monkeypatch):
    (tmp_path / "yieldkit-999999-0123456789ab").mkdir()

    def swept_by_another(path, prefix):
        path.rmdir()
        return True

    monkeypatch.setattr(private, "_abandoned", swept_by_another)
    assert sweep_private(tmp_path, "yieldkit-") == 1
