"""How the command line ends: its exit codes, and one sentence instead of a traceback."""

import os
import signal
import subprocess
import sys

import pytest

from yieldkit.base.errors import InputError, NothingPermitted, Problem, YieldkitError
from yieldkit.cli import check as cli_check
from yieldkit.cli import main as cli
from yieldkit.cli import site_files as cli_files
from yieldkit.design.checks.findings import COSTS_YIELD, NOT_CHECKED, NOT_PERMITTED, PASSES, Finding

pytestmark = pytest.mark.slow


def run(*arguments, **more):
    """Run the command line in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "yieldkit", *arguments],
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
        timeout=120,
        check=False,
        **more,
    )


def failing(error):
    """Return a command that fails."""

    def command(options):
        raise error

    return command


@pytest.fixture
def broken(monkeypatch):
    """Return a function that lets the command `schema` fail and returns its exit code."""

    def start(error):
        monkeypatch.setattr(cli_files, "schema", failing(error))
        return cli.main(["schema"])

    return start


def test_help_and_version_are_done(capsys):
    assert cli.main([]) == 0
    assert "compare the wirings and write a report" in capsys.readouterr().out
    with pytest.raises(SystemExit, match=r"^0$"):
        cli.main(["--version"])
    assert capsys.readouterr().out.startswith("yieldkit 0.")


def test_every_command_has_a_target_and_a_help_text(capsys):
    for command in cli._TARGETS:
        assert callable(cli._target(command))
        with pytest.raises(SystemExit, match=r"^0$"):
            cli.main([command, "--help"])
        assert len(capsys.readouterr().out) > 100
    with pytest.raises(SystemExit, match=r"^0$"):
        cli.main(["--help"])
    text = capsys.readouterr().out
    assert all(f"    {command} " in text for command in cli._TARGETS)


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        (["comparre"], "there is no command 'comparre'. Did you mean 'compare'?"),
        (
            ["zzz"],
            f"there is no command 'zzz'. Commands: {', '.join(sorted(cli._TARGETS))}.",
        ),
        (["a\x1b[31m"], "there is no command 'a"),
        (["check", "--jsn"], "unrecognized arguments: --jsn. See yieldkit --help."),
        (["check", "--json", "--csv"], "not allowed with argument --json"),
        (["simulate", "--wiring"], "expected one argument"),
        (["check", "--wir", "x"], "unrecognized arguments"),
    ],
)
def test_a_slip_is_told_in_one_sentence_with_exit_2(given, sentence, capsys):
    with pytest.raises(SystemExit, match=r"^2$"):
        cli.main(given)
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("yieldkit: ")
    assert sentence in told.err
    assert told.err.count("\n") == 1
    assert "\x1b" not in told.err


def test_internal_error_exits_70_without_a_traceback(broken, capsys):
    assert broken(ZeroDivisionError("division by zero")) == 70
    told = capsys.readouterr().err
    assert told.startswith("yieldkit: an error in yieldkit itself (ZeroDivisionError: division")
    assert "YIELDKIT_TRACEBACK=1" in told
    assert "Traceback" not in told
    assert told.count("\n") == 1


def test_traceback_is_shown_when_asked_for(broken, capsys, monkeypatch):
    monkeypatch.setenv("YIELDKIT_TRACEBACK", "1")
    assert broken(ZeroDivisionError("division by zero")) == 70
    told = capsys.readouterr().err
    assert "Traceback (most recent call last)" in told
    assert "in failing" not in told
    assert "in command" in told


def test_input_error_exits_2_with_a_line_for_each_problem(broken, capsys):
    problems = (
        Problem("site.yaml line 3, a", "'x\x1b[2J'", "a number"),
        Problem("site.yaml line 9, b", "-90", "0 to 360", remedy="Write 270 for west."),
    )
    assert broken(InputError(problems)) == 2
    lines = capsys.readouterr().err.splitlines()
    assert lines == [
        "yieldkit: site.yaml line 3, a: got 'x[2J'; expected a number.",
        "yieldkit: site.yaml line 9, b: got -90; expected 0 to 360. Write 270 for west.",
    ]


def test_a_question_whose_every_answer_is_forbidden_exits_1(broken, capsys):
    problem = Problem("wirings", "none that is permitted", "at least one")
    assert broken(NothingPermitted((problem,))) == 1
    told = capsys.readouterr().err
    assert told == "yieldkit: wirings: got none that is permitted; expected at least one.\n"


def test_error_of_the_system_exits_2_and_names_the_file(broken, capsys):
    assert broken(OSError(28, "No space left on device", "out/a.nc")) == 2
    told = capsys.readouterr().err
    assert told == (
        "yieldkit: out/a.nc: No space left on device. The disk is full: make room, or name a "
        "folder on another one. Nothing half-written was left behind.\n"
    )
    assert broken(OSError(27, "File too large", "out/a.nc")) == 2
    assert "File too large. A limit on the size of files stands in the way (ulimit -f shows" in (
        capsys.readouterr().err
    )


def test_too_little_memory_is_named_and_exits_2(broken, capsys):
    assert broken(MemoryError("Unable to allocate 7.0 GiB")) == 2
    assert capsys.readouterr().err == (
        "yieldkit: there is not enough memory (Unable to allocate 7.0 GiB). Take a coarser step or "
        "fewer years of weather, or more memory. Nothing half-written was left behind.\n"
    )


def test_no_exit_code_is_promised_that_never_comes(capsys):
    with pytest.raises(SystemExit, match=r"^0$"):
        cli.main(["--help"])
    assert "batch" not in capsys.readouterr().out


def test_a_report_that_fails_exits_70_with_its_own_sentence(broken, capsys):
    assert broken(YieldkitError("The report stopped.")) == 70
    assert capsys.readouterr().err == "yieldkit: The report stopped.\n"


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (KeyboardInterrupt(), 130),
        (MemoryError(), 2),
        (RecursionError("deep"), 70),
        (AssertionError("x"), 70),
        (UnicodeDecodeError("utf-8", b"\xff", 0, 1, "bad"), 70),
        (OSError("without a number"), 70),
    ],
    ids=lambda value: type(value).__name__ if isinstance(value, BaseException) else str(value),
)
def test_no_error_ends_with_exit_1_or_a_traceback(error, code, broken, capsys):
    assert broken(error) == code
    told = capsys.readouterr().err
    assert told.startswith("yieldkit: ")
    assert "Traceback" not in told


def test_a_missing_site_file_exits_2(tmp_path):
    done = run("check", str(tmp_path / "nowhere.yaml"))
    assert done.returncode == 2
    assert done.stdout == ""
    assert "nowhere.yaml" in done.stderr
    assert "Traceback" not in done.stderr


def test_an_unknown_wiring_exits_2_and_suggests_one(tmp_path):
    done = run("simulate", "--wiring", "lopsidet", "--out", str(tmp_path / "out"))
    assert done.returncode == 2
    assert "Did you mean 'lopsided'?" in done.stderr
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("found", "code"),
    [
        ([], 0),
        ([(COSTS_YIELD, False), (NOT_CHECKED, False)], 0),
        ([(NOT_CHECKED, True)], 4),
        ([(NOT_CHECKED, True), (NOT_PERMITTED, False)], 1),
    ],
    ids=["passes", "only yield", "essential not checked", "forbidden and not checked"],
)
def test_check_exits_by_what_the_wiring_may_be_called(found, code, monkeypatch, capsys):
    findings = tuple(
        Finding(f"check {number}", "array", verdict, essential=essential)
        for number, (verdict, essential) in enumerate(found)
    )
    monkeypatch.setattr(cli_check, "check_wiring", lambda _site, _wiring: findings)
    assert cli.main(["check", "--wiring", "lopsided"]) == code
    assert cli.main(["check", "--wiring", "lopsided", "--json"]) == code
    assert "lopsided" in capsys.readouterr().out


def test_one_forbidden_wiring_decides_over_one_with_open_limits(monkeypatch, capsys):
    verdicts = iter([NOT_CHECKED, NOT_PERMITTED, NOT_CHECKED, PASSES])
    monkeypatch.setattr(
        cli_check,
        "check_wiring",
        lambda _site, _wiring: (Finding("volts", "array", next(verdicts), essential=True),),
    )
    assert cli.main(["check"]) == 1
    text = capsys.readouterr().out
    assert "Wiring 'lopsided': not permitted: volts." in text


@pytest.mark.parametrize("command", ["compare", "propose"])
def test_help_names_every_exit_code(command, capsys):
    assert cli.main([]) == 0
    text = " ".join(capsys.readouterr().out.split())
    for part in (
        "0 done, 1 not permitted",
        command,
        "2 bad input",
        "4 check:",
        "are NOT CHECKED, verify: a string NOT CHECKED, review: an input NOT CHECKED, 70 internal",
    ):
        assert part in text
    assert "What only costs yield is no failure." in text


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX systems")
@pytest.mark.usefixtures("interruptible")
@pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_signals_end_a_run_with_their_code_and_leave_no_part(number, code, tmp_path):
    process = subprocess.Popen(
        [sys.executable, "-m", "yieldkit", "simulate", "--out", str(tmp_path)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    for line in process.stderr:
        if "No wiring named" in line:
            break
    process.send_signal(number)
    _, told = process.communicate(timeout=60)
    expected = code, "yieldkit: stopped; nothing half-written was left behind.\n"
    assert (process.returncode, told) == expected
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(sys.platform == "win32", reason="pipes of POSIX systems")
def test_a_reader_that_goes_away_is_no_error():
    process = subprocess.Popen(
        [sys.executable, "-m", "yieldkit", "schema"], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    process.stdout.close()
    told = process.stderr.read()
    process.stderr.close()
    assert process.wait(timeout=60) == 141
    assert told == b""


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no device that is always full")  # noqa: PTH110
def test_output_to_a_full_device_is_told():
    with open("/dev/full", "w") as full:  # noqa: PTH123
        done = subprocess.run(
            [sys.executable, "-m", "yieldkit", "schema"],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            timeout=60,
            check=False,
        )
    assert done.returncode == 2
    assert "No space left on device" in done.stderr
    assert "Traceback" not in done.stderr
