"""A stop is heard wherever it comes: in a finalizer, within a library that makes an error of it."""

import signal
import sys
import time

import pytest

from yieldkit.cli import main as cli
from yieldkit.cli.heard_stops import HeardStops, Terminated

pytestmark = [
    pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX systems"),
    pytest.mark.usefixtures("interruptible"),
]
KINDS = [(signal.SIGINT, KeyboardInterrupt, 130), (signal.SIGTERM, Terminated, 143)]


class Finalized:
    """Is stopped while it is being finalized, where Python drops what is raised."""

    def __init__(self, number):
        self.number = number

    def __del__(self):
        signal.raise_signal(self.number)
        time.sleep(0.001)


@pytest.mark.parametrize(("number", "raised", "_code"), KINDS)
def test_a_stop_dropped_in_a_finalizer_is_asked_for_again(number, raised, _code):
    began = time.monotonic()
    with HeardStops() as stops, pytest.raises(raised, match=r"^$"):  # noqa: PT012
        Finalized(number)
        while time.monotonic() - began < 20.0:
            time.sleep(0.001)
    assert stops.asked == number
    assert time.monotonic() - began < 10.0


def test_what_else_is_dropped_goes_where_it_went_before():
    told = []

    class Wrong:
        def __del__(self):
            raise ValueError("in a finalizer")

    before = sys.unraisablehook
    sys.unraisablehook = told.append
    try:
        with HeardStops():
            Wrong()
    finally:
        after, sys.unraisablehook = sys.unraisablehook, before
    assert [each.exc_type for each in told] == [ValueError]
    assert after == told.append


@pytest.mark.parametrize(("number", "raised", "code"), KINDS)
def test_an_error_that_a_library_makes_of_a_stop_is_told_as_the_stop(
    number, raised, code, monkeypatch, capsys
):
    def stopped_inside(_options):
        try:
            signal.raise_signal(number)
        except raised as error:
            raise OSError(5, "Input/output error") from error

    monkeypatch.setattr(cli, "_target", lambda _command: stopped_inside)
    assert cli.main(["check"]) == code
    assert capsys.readouterr().err == ("yieldkit: stopped; nothing half-written was left behind.\n")


def test_handlers_are_afterwards_as_before():
    before = signal.getsignal(signal.SIGTERM), signal.getsignal(signal.SIGINT)
    with HeardStops():
        assert signal.getsignal(signal.SIGTERM) != before[0]
    assert (signal.getsignal(signal.SIGTERM), signal.getsignal(signal.SIGINT)) == before


def test_an_ignored_interrupt_stays_ignored():
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with HeardStops() as stops:
        signal.raise_signal(signal.SIGINT)
    assert stops.asked == 0
