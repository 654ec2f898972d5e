"""Ctrl-C at awkward moments: while a module is imported, and while a constraint solver searches."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

SPACE = ("--changes", "Dm7 | G7 | Cmaj7", "--start", "D4", "--figures", "above-below", "--endings", "plain")
INTERRUPTED = (130, "", "everyline: stopped.\n")


@pytest.mark.parametrize(
    "command",
    [("count", *SPACE, "--engine", "cp-sat"), ("list", *SPACE, "--order", "varied", "--exact", "--most", 3)],
)
def test_while_a_module_is_imported(program, tmp_path: Path, command) -> None:
    """An extension module in C gives its importer an ImportError for the KeyboardInterrupt that it met."""
    folder = tmp_path / "ortools" / "sat" / "python"
    folder.mkdir(parents=True)
    for package in (folder, *folder.parents[:2]):
        (package / "__init__.py").touch()
    (folder / "cp_model.py").write_text(
        "import os, signal\n"
        "try:\n    os.kill(os.getpid(), signal.SIGINT)\n    [None] * 10\n"
        "except KeyboardInterrupt:\n    pass\n"
        'raise ImportError("initialization failed")\n'
    )
    assert program(*command, env={**os.environ, "PYTHONPATH": str(tmp_path)}) == INTERRUPTED


SEARCH = """
    import os, signal, sys
    from threading import Timer
    from ortools.sat.python import cp_model
    from everyline.solver.interrupt import run

    def model(size):
        made = cp_model.CpModel()
        for place in range(size):
            made.new_bool_var(str(place))
        solver = cp_model.CpSolver()
        solver.parameters.enumerate_all_solutions = True
        solver.parameters.num_workers = 1
        solver.parameters.max_time_in_seconds = 60
        return solver, made

    assert run(*model(3)) == cp_model.OPTIMAL
    Timer(0.3, os.kill, (os.getpid(), signal.SIGINT)).start()
    try:
        run(*model(60))
    except KeyboardInterrupt:
        print("heard")
    try:
        os.kill(os.getpid(), signal.SIGINT)
    except KeyboardInterrupt:
        print("heard again")
"""


def test_while_a_solver_searches_and_after_it() -> None:
    pytest.importorskip("ortools")
    command = [sys.executable, "-c", textwrap.dedent(SEARCH)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert (done.returncode, done.stdout) == (0, "heard\nheard again\n"), done.stderr


def test_a_time_limit_is_felt_while_a_solver_searches() -> None:
    pytest.importorskip("ortools")
    from ortools.sat.python import cp_model

    from everyline.corpora.errors import Stopped
    from everyline.solver.interrupt import run

    model, solver = cp_model.CpModel(), cp_model.CpSolver()
    for place in range(60):
        model.new_bool_var(str(place))
    solver.parameters.enumerate_all_solutions = True
    solver.parameters.max_time_in_seconds = 60

    def stop(number: int, frame: object) -> None:
        raise Stopped("the time is over.")

    before = signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, 0.2)
    try:
        with pytest.raises(Stopped):
            run(solver, model)
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def test_what_goes_wrong_in_a_callback_is_not_lost() -> None:
    pytest.importorskip("ortools")
    from ortools.sat.python import cp_model

    from everyline.solver.interrupt import run

    with pytest.raises(TypeError):
        run(cp_model.CpSolver(), cp_model.CpModel(), 5)


def test_the_handler_of_whoever_calls_is_given_back(run) -> None:
    before = signal.getsignal(signal.SIGINT)
    run("limits")
    assert signal.getsignal(signal.SIGINT) is before


def test_ctrl_c_before_the_command_line_is_there_is_answered_like_any_other() -> None:
    program = """
import sys
class Pressed:
    def find_spec(self, name, path=None, target=None):
        if name == "everyline.cli.main":
            raise KeyboardInterrupt
sys.meta_path.insert(0, Pressed())
from everyline.__main__ import main
sys.exit(main())
"""
    ended = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert (ended.returncode, ended.stdout, ended.stderr) == (130, "", "everyline: stopped.\n")


def test_the_package_runs_as_a_program() -> None:
    words = [sys.executable, "-m", "everyline", "count", "--changes", "C | F", "--start", "C4"]
    ended = subprocess.run(words, capture_output=True, text=True, check=False)
    assert (ended.returncode, ended.stderr) == (0, "")
    assert int(ended.stdout) > 0


FINALIZER = """
import os, signal, time

class Left:
    def __del__(self):
        os.kill(os.getpid(), signal.SIG{name})

pressed = []

def rule(line):
    if not pressed:
        pressed.append(True)
        Left()
    time.sleep(0.01)
    return True
"""


@pytest.mark.parametrize("name", ["INT", "TERM"])
def test_a_signal_that_comes_into_a_finalizer_is_not_lost(name: str, program, tmp_path: Path) -> None:
    """An exception from there reaches nobody; Python prints it and goes on."""
    (tmp_path / "own.py").write_text(FINALIZER.replace("{name}", name))
    rule = ("--own-rule", f"{tmp_path / 'own.py'}:rule", "--allow-python")
    code, out, said = program("count", *SPACE, *rule)
    assert (code, out) == (130, "")
    assert [line for line in said.splitlines() if "running Python" not in line] == ["everyline: stopped."]
