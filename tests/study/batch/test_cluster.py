"""What is told when workers can't be had: no scheduler, no worker, another version, silence."""

import contextlib
import gc
import socket
import subprocess
import sys
import time
from types import SimpleNamespace

import distributed
import pytest

from tests.study.batch import batches, killing
from yieldkit.base.errors import InputError
from yieldkit.study.batch import cluster, connection, worker_versions
from yieldkit.study.batch.sweep import sweep
from yieldkit.study.batch.worker_versions import other_versions, own_versions

pytestmark = [pytest.mark.slow, pytest.mark.filterwarnings("default")]

ONE = """\
base: site.yaml
axes:
  - {kind: key, name: lead, path: grid.lead.length_m, values: [6]}
wirings: [one plane per tracker]
"""


@pytest.fixture(scope="module")
def one(tmp_path_factory):
    """Return a plan of one run, and its folder."""
    folder = tmp_path_factory.mktemp("one")
    return batches.batch(folder, ONE), folder


@pytest.fixture
def hurried(monkeypatch):
    """Wait for nobody longer than two seconds."""
    monkeypatch.setattr(cluster, "ANSWER_S", 2.0)


@pytest.mark.usefixtures("hurried")
def test_a_scheduler_that_is_not_there_is_told(one):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{free.getsockname()[1]}"
    with pytest.raises(InputError, match="got no answer within 2 s") as told:
        sweep(one[0], one[1] / "out", scheduler=address)
    assert f"scheduler {address}: " in str(told.value)
    assert "the address of a running Dask scheduler, such as tcp://10.0.0.5:8786" in str(told.value)
    assert "leave --scheduler out to compute here" in str(told.value)


HURRIED = """
import sys
from yieldkit.study.batch import cluster
from tests.study.batch.sweeping import main
cluster.ANSWER_S = 2.0
sys.exit(main())
"""


def test_a_scheduler_that_says_nothing_is_told(one):
    # In a process of its own: the thread that nobody waits for any more stays until it ends.
    with socket.create_server(("127.0.0.1", 0)) as silent:
        address = f"tcp://127.0.0.1:{silent.getsockname()[1]}"
        done = subprocess.run(
            [sys.executable, "-c", HURRIED, str(one[1] / "plan.yaml"), str(one[1] / "o"), address],
            capture_output=True,
            text=True,
            env=killing.environment(),
            timeout=60,
            check=False,
        )
    assert done.returncode == 2, done.stderr
    assert f"scheduler {address}: got no answer within 2 s" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.usefixtures("hurried")
def test_what_is_no_address_is_told(one):
    with pytest.raises(InputError, match="scheduler nonsense: got no answer within 2 s"):
        sweep(one[0], one[1] / "out", scheduler="nonsense")


def test_a_client_that_could_not_connect_is_not_in_the_next_ones_way(monkeypatch):
    # Left unclosed it would close itself as garbage, here in the loop that is just starting.
    cycle = []
    with pytest.raises(ValueError, match="missing port number") as told:
        connection.connected("nonsense", 30.0)
    cycle += [told, cycle]
    del told, cycle
    factory = distributed.utils.get_loop_factory

    def collecting():
        gc.collect()
        return factory()

    monkeypatch.setattr(distributed.utils, "get_loop_factory", collecting)
    with (
        distributed.LocalCluster(n_workers=0, processes=False, dashboard_address=None) as there,
        contextlib.closing(connection.connected(there.scheduler_address, 30.0)) as client,
    ):
        assert client.status == "running"


def test_a_scheduler_that_answers_when_asked_again_is_taken(monkeypatch):
    asked = []

    def opened(address, _timeout_s):
        asked.append(address)
        if len(asked) == 1:
            time.sleep(1.0)
        return Silent()

    monkeypatch.setattr(connection, "_opened", opened)
    monkeypatch.setattr(connection, "_SLACK_S", 0.1)
    assert connection.connected("tcp://a:1", 0.1).status == "running"
    assert asked == ["tcp://a:1", "tcp://a:1"]


def test_a_scheduler_without_workers_and_workers_of_other_versions_are_told(
    one, tmp_path, monkeypatch
):
    monkeypatch.setattr(cluster, "WORKER_S", 1.0)
    with killing.cluster(tmp_path, workers=0) as (programs, address):
        with pytest.raises(InputError, match="got no worker within 1 s; expected at least one"):
            sweep(one[0], one[1] / "out", scheduler=address)
        worker = [sys.executable, "-m", "dask", "worker", address, "--nthreads", "1"]
        programs.append(
            subprocess.Popen(
                [*worker, "--no-dashboard", "--local-directory", str(tmp_path), "--no-nanny"],
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                env=killing.environment(),
                start_new_session=True,
            )
        )
        monkeypatch.setattr(cluster, "WORKER_S", 60.0)
        here = own_versions() | {"numba": "0.0.1"}
        monkeypatch.setattr(worker_versions, "own_versions", lambda: here)
        with pytest.raises(InputError, match=r"with numba [\d.]+, where 0\.0\.1 is here") as told:
            sweep(one[0], one[1] / "out", scheduler=address)
        assert "Install the same environment on all of them." in str(told.value)


@pytest.mark.parametrize(
    ("other", "said"),
    [
        ({}, ""),
        ({"yieldkit": "9"}, "worker tcp://b:1 with yieldkit 9, where "),
        ({"numpy": "1.0"}, "worker tcp://b:1 with numpy 1.0, where "),
        ({"numba": "0.1"}, "worker tcp://b:1 with numba 0.1, where "),
        ({"sources": "0"}, "worker tcp://b:1 with other sources of yieldkit "),
    ],
)
def test_the_worker_with_another_version_is_named(other, said):
    found = {"tcp://a:1": own_versions(), "tcp://b:1": own_versions() | other}
    assert other_versions(found).startswith(said)
    assert bool(other_versions(found)) == bool(said)


def test_a_worker_without_yieldkit_is_named():
    missing = ModuleNotFoundError("No module named 'yieldkit'")
    assert other_versions({"tcp://b:1": missing}) == (
        "worker tcp://b:1 without this version of yieldkit (No module named 'yieldkit')"
    )


class Silent:
    """A client whose workers give nothing back, or are gone."""

    status = "running"
    cluster = None

    def __init__(self, workers=1):
        self.here = workers

    def scheduler_info(self, n_workers):
        """Return the workers."""
        assert n_workers == -1
        return {"workers": dict.fromkeys(range(self.here))}

    def as_current(self):
        """Return something to enter."""
        return cluster.contextlib.nullcontext()

    def submit(self, *_given, **_more):
        """Return a future of nothing."""
        return object()

    def cancel(self, *_given, **_more):
        """Do nothing."""


def part(runs):
    """Return a part of one run."""
    return cluster.Part("nowhere", tuple(runs), {})


def waits_in_vain(monkeypatch, client):
    """Hand out a part that never comes back; return what is said."""

    def nothing(_futures, _seconds, _how):
        raise TimeoutError

    monkeypatch.setattr(cluster, "wait", nothing)
    with pytest.raises(InputError, match="expected") as told:
        list(cluster.computed_by_workers(client, iter([part(one_run)]), "somewhere"))
    return str(told.value)


class _Run:
    name = "a run"


one_run = (_Run(),)


def test_nothing_from_any_worker_is_told_after_a_while(monkeypatch):
    monkeypatch.setattr(cluster, "SILENT_S", 0.05)
    said = waits_in_vain(monkeypatch, Silent())
    assert "somewhere: got nothing from any worker for" in said
    assert "A worker that hangs, or runs of very long series?" in said


def test_workers_that_are_gone_for_good_are_told(monkeypatch):
    monkeypatch.setattr(cluster, "AWAY_S", 0.05)
    said = waits_in_vain(monkeypatch, Silent(workers=0))
    assert "somewhere: got no worker within" in said
    assert "every part written is kept" in said


def test_a_scheduler_that_is_gone_is_told(monkeypatch):
    client = Silent()
    client.status = "connecting"
    said = waits_in_vain(monkeypatch, client)
    assert "somewhere: got no answer any more: the scheduler has ended" in said


def test_processes_that_do_not_start_are_told(one, monkeypatch):
    tries = []

    def fails(**options):
        tries.append(options["n_workers"])
        raise RuntimeError("Nanny failed to start.")

    monkeypatch.setattr(cluster, "LocalCluster", fails)
    with pytest.raises(InputError, match="got processes that end while they start") as told:
        sweep(one[0], one[1] / "out", workers=3)
    assert "3 processes on this machine" in str(told.value)
    assert "Give fewer with --workers; 1 computes in this process." in str(told.value)
    assert tries == [3, 3, 3]


def test_a_disk_that_refuses_a_worker_is_told_as_here():
    full = OSError(28, "No space left on device")
    assert cluster._as_told(full, "somewhere") is full
    assert str(cluster._as_told(KeyError("a"), "somewhere")) == "somewhere: KeyError: 'a'"


class LostAnswer:
    """A part that was computed, by a worker that died with what it had to tell."""

    status = "finished"

    def __init__(self, error):
        self.error = error

    def result(self, timeout):
        """Raise what is left of it."""
        raise self.error


def test_processes_of_this_machine_that_stay_away_are_asked_for(monkeypatch):
    monkeypatch.setattr(cluster, "_REVIVE_S", -1.0)
    monkeypatch.setattr(cluster, "AWAY_S", 0.05)
    asked = []
    client = Silent(workers=0)
    client.cluster = SimpleNamespace(worker_spec={0: None, 1: None}, scale=asked.append)
    waits_in_vain(monkeypatch, client)
    assert asked
    assert set(asked) == {2}


@pytest.mark.parametrize("status", ["lost", "pending"])
def test_an_answer_lost_before_it_was_looked_at_is_on_its_way_again(status):
    answer = LostAnswer(AssertionError("asked for what isn't there"))
    answer.status = status
    assert cluster._Window(Silent(), "somewhere")._outcome(answer) is None


def test_answers_called_back_tell_that_the_scheduler_is_gone():
    answer = LostAnswer(AssertionError("asked for what isn't there"))
    answer.status = "cancelled"
    with pytest.raises(InputError, match="somewhere: got no answer any more: the scheduler has"):
        cluster._Window(Silent(), "somewhere")._outcome(answer)


@pytest.mark.parametrize("lost", [TimeoutError(), cluster.KilledWorker("part", None, 0)])
def test_an_answer_lost_with_its_worker_is_no_error(lost):
    found = cluster._Window(Silent(), "somewhere")._outcome(LostAnswer(lost))
    assert found is (lost if isinstance(lost, cluster.KilledWorker) else None)


def test_an_error_of_a_worker_is_told_with_where():
    window = cluster._Window(Silent(), "somewhere")
    with pytest.raises(RuntimeError, match="somewhere: KeyError: 'a'"):
        window._outcome(LostAnswer(KeyError("a")))
    with pytest.raises(OSError, match="No space left on device"):
        window._outcome(LostAnswer(OSError(28, "No space left on device")))
