"""Entry point of the command line: finds the command, runs it, turns what went wrong into one sentence and
a code.

Exit codes: 0 done; 1 the answer is "no"; 2 the input is wrong; 3 stopped by a limit, a full disk or the loss
of a process; 130 stopped by Ctrl-C or a signal.
"""

from __future__ import annotations

import argparse
import importlib
import os
import signal as signals
import sys
from _thread import interrupt_main
from collections.abc import Callable, Sequence
from contextlib import suppress
from threading import Timer, current_thread, main_thread
from types import FrameType
from typing import Any, NoReturn, Self

from everyline.cli.messages import complain, end_well, readable_output
from everyline.cli.option_values import READERS
from everyline.corpora.counted import choice
from everyline.corpora.errors import NO_ROOM, EverylineError, InputError, Stopped, did_you_mean
from everyline.corpora.numbers import refuse_long_numbers

NO, WRONG, STOPPED, INTERRUPTED = 1, 2, 3, 130
TRACEBACK = "EVERYLINE_TRACEBACK"
"""Environment variable that lets a fault of the program be seen in full."""

COMMANDS: dict[str, tuple[str, str]] = {
    "count": ("lines", "how many lines there are, exactly"),
    "list": ("lines", "the lines, in order"),
    "sample": ("lines", "lines drawn at random, each as likely as any other"),
    "pick": ("pick", "a few lines to hand out, in the style of a taste and unlike each other"),
    "show": ("lines", "one line by its number, note by note"),
    "number": ("lines", "the number of a line that you give"),
    "next": ("next", "the notes that may come next in a line, each with how many lines go on from it"),
    "check": ("check", "whether a line is valid, what is wrong where, and the nearest valid lines"),
    "learn": ("learn", "your own notes as an ending or an approach figure for the corpora"),
    "chorus": ("chorus", "a whole form in phrases under a plan: counted, shown, drawn, taken away"),
    "facets": ("facets", "how many lines there are for each start note, figure, target, ending and so on"),
    "tally": (
        "tally",
        "how often each interval, degree and pitch occurs over all lines, and how rough they are",
    ),
    "why": ("why", "what excludes every line and what would bring lines back; or what each rule costs"),
    "taste": ("taste", "which moves a style prefers: what there is, how it differs, one from your own lines"),
    "limits": ("limits", "what a teacher can add to the rules, with an example each"),
    "drill": ("drill", "a drill set as a folder: exercises in many keys, with a key and a manifest"),
    "lesson": ("lesson", "lines kept with titles and remarks, in a lesson file"),
    "student": ("student", "a student's folder: lines given, how they went, new ones without repeats"),
    "students": ("student", "who is in the students' file"),
    "plan": ("plan", "a student's practice for a week or more: lines, keys and tempi for each day"),
    "export": ("export", "lines as files: staff and TAB, pictures, sound, data"),
    "sheet": ("sheet", "lines, a lesson or a drill set as printed pages, with a key of their own"),
    "serve": ("serve", "the page: start the web page on this machine (all of the above in a browser)"),
    "corpus": (
        "corpus",
        "what there is to choose from: figures, endings, progressions, instruments, rule files",
    ),
}
"""Every command: the module under ``everyline.cli`` that holds it, and what it gives."""


class CommandParser(argparse.ArgumentParser):
    """A parser whose complaints are InputErrors, so that they look like all others."""

    def __init__(self, *words: Any, **more: Any) -> None:
        super().__init__(*words, **more)
        for kind, read in READERS.items():
            self.register("type", kind, read)

    def error(self, message: str) -> NoReturn:
        """Complain in one sentence."""
        raise InputError(f'{message}. See "{self.prog} --help".')

    def parse_args(self, args: Any = None, namespace: Any = None) -> Any:
        """Read all words. Raises InputError for one too many, with the option that it is near to."""
        self._look_at(args)
        found, left = self.parse_known_args(args, namespace)
        if not left:
            return found
        if left[0].startswith("--"):
            from everyline.cli.slips import unknown_option

            raise InputError(unknown_option(self, left[0].partition("=")[0]))
        if getattr(found, "changes", None) is not None:
            from everyline.cli.slips import unquoted

            words = unquoted(found.changes, [getattr(found, "file", None), *left])
            if words:
                raise InputError(words)
        raise InputError(f'"{left[0]}" is one word too many; "{self.prog} --help" tells what goes where.')

    def _look_at(self, words: Sequence[str]) -> None:
        """Raises InputError for a word that no command takes, and for an option that this one does not."""
        for word in words:
            refuse_long_numbers(word)
            if word.startswith("--") and word.endswith("=--"):  # two dashes alone are no value
                raise InputError(f'{word[:-3]}: expected one argument. See "{self.prog} --help".')
        if self._subparsers is not None:  # whoever reads the words after an action knows the options
            return
        for word in words[: words.index("--") if "--" in words else None]:
            option = word.partition("=")[0]
            if option.startswith("--") and option not in self._option_string_actions:
                from everyline.cli.slips import unknown_option

                raise InputError(unknown_option(self, option))

    def _get_value(self, action: argparse.Action, arg_string: str) -> Any:
        try:
            return super()._get_value(action, arg_string)
        except argparse.ArgumentError:
            # argparse lets the type be any callable; only these two have words of their own.
            wanted = {int: "a whole number", float: "a number"}.get(action.type)  # type: ignore[call-overload]
            if wanted is None:
                raise
            name = "/".join(action.option_strings) or action.metavar or action.dest
            raise InputError(f'{name} "{arg_string}": write {wanted}.') from None

    def _check_value(self, action: argparse.Action, value: Any) -> None:
        if action.choices is not None and value not in action.choices:
            allowed = [str(each) for each in action.choices]
            name = "/".join(action.option_strings) or action.metavar or action.dest
            near = did_you_mean(str(value), allowed)
            raise InputError(f'{name} "{value}": choose {choice(allowed)}.{near}')


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line; answers the exit code."""
    arguments = list(sys.argv[1:] if argv is None else argv)
    with (
        readable_output(),
        _Interrupts(signals.SIG_IGN if argv is None else signals.default_int_handler) as interrupts,
    ):
        return _answered(arguments, interrupts)


ENDED = tuple(signals.Signals[name] for name in ("SIGTERM", "SIGHUP") if hasattr(signals, name))
"""How others end the program; it then cleans up as after Ctrl-C."""


AGAIN = 0.02
"""Seconds until Ctrl-C is pressed again where it came to nobody."""


class _Interrupts:
    """Remembers that Ctrl-C was pressed, or that the program was told to end by a signal of ENDED.

    A module that is being imported may turn it into another error. ``after`` handles Ctrl-C from then on: a
    program whose work is done ignores it, so that what is told stays told.
    """

    came = False

    def __init__(self, after: Callable[[int, FrameType | None], object] | signals.Handlers) -> None:
        self._after = after
        self._before: dict[int, Any] = {}

    def __enter__(self) -> Self:
        # Whoever calls from another thread, or has a handler of his own, keeps it.
        if current_thread() is main_thread():
            usual = {signals.SIGINT: signals.default_int_handler} | dict.fromkeys(ENDED, signals.SIG_DFL)
            self._before = {each: how for each, how in usual.items() if signals.getsignal(each) is how}
        for each in self._before:
            signals.signal(each, self._note)
        self._complain, sys.unraisablehook = sys.unraisablehook, self._swallowed
        return self

    def __exit__(self, *error: object) -> None:
        sys.unraisablehook = self._complain
        for each, before in self._before.items():
            signals.signal(each, self._after if each == signals.SIGINT else before)

    def _swallowed(self, found: Any) -> None:
        """An exception came where nobody can catch it, in a finalizer: Ctrl-C is pressed again a little
        later, and limits of time and memory come again by themselves."""
        if isinstance(found.exc_value, KeyboardInterrupt):
            Timer(AGAIN, interrupt_main).start()
        elif not isinstance(found.exc_value, Stopped | MemoryError):
            self._complain(found)

    def _note(self, number: int, frame: FrameType | None) -> None:
        self.came = True
        for each in self._before:
            if each in ENDED:  # a second one would come into the cleaning up
                signals.signal(each, signals.SIG_IGN)
        raise KeyboardInterrupt


def _answered(arguments: list[str], interrupts: _Interrupts) -> int:
    sys.set_int_max_str_digits(0)  # counts are exact at any size, in decimal too
    try:
        code = _run(arguments)
        sys.stdout.flush()
        end_well(True)
        return code
    except KeyboardInterrupt:
        return _interrupted()
    except Exception as error:
        return _interrupted() if interrupts.came else _failed(error)
    finally:
        end_well(False)


def _interrupted() -> int:
    complain("stopped.")
    return INTERRUPTED


def _give_up_output() -> None:
    """Keep the interpreter from writing, at its end, what is left of an output that takes no more."""
    with suppress(OSError, ValueError):  # an output of somebody else's making is no file
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _failed(error: Exception) -> int:
    """Say in one sentence what went wrong; answers the exit code."""
    match error:
        case EverylineError():
            complain(str(error))
            return STOPPED if isinstance(error, Stopped) else WRONG
        case BrokenPipeError():
            _give_up_output()  # whoever read it went away
            complain("the output was closed before everything was written; ask for fewer lines with --most.")
        case MemoryError():
            complain("stopped: the memory allowed was not enough; raise --memory-limit or narrow the rules.")
            return STOPPED
        case OSError() if error.errno in NO_ROOM:
            if error.filename is None:
                _give_up_output()
            complain(
                f"stopped: {error.filename or 'the output'}: {error.strerror}; make room, and ask again."
            )
            return STOPPED
        case OSError():  # what the system says of a file, a folder or a device
            complain(f"{error.filename or 'input or output'}: {error.strerror or error}.")
        case _:
            if os.environ.get(TRACEBACK):
                raise error
            complain(
                f"this is a bug in Everyline, not a mistake in your input ({type(error).__name__}: {error}). "
                f"Please report the command; with {TRACEBACK}=1 in the environment it prints the details."
            )
    return WRONG


def _run(arguments: list[str]) -> int:
    if sys.stdout is None or sys.stdout.closed:
        raise InputError("standard output is closed, so there is nowhere to write to.")
    if not arguments or arguments[0] in ("-h", "--help"):
        print(_overview())
        return 0
    if arguments[0] == "--version":
        from everyline import __version__

        print(f"everyline {__version__}")
        return 0
    name = arguments[0]
    if name not in COMMANDS:
        raise InputError(
            f'there is no command "{name}"; the commands are {", ".join(COMMANDS)}.'
            f"{did_you_mean(name, COMMANDS)}"
        )
    module, parser = command(name)
    result: int = module.run(name, parser.parse_args(arguments[1:]))
    return result


def command(name: str) -> tuple[Any, CommandParser]:
    """The module of a command, and its parser."""
    module = importlib.import_module(f"everyline.cli.{COMMANDS[name][0]}")
    # Abbreviated, --most would be --most-nodes where there is no --most.
    parser = CommandParser(
        prog=f"everyline {name}", description=COMMANDS[name][1].capitalize() + ".", allow_abbrev=False
    )
    module.options(name, parser)
    return module, parser


def _overview() -> str:
    widest = max(map(len, COMMANDS))
    rows = [f"  {name:<{widest}}  {what}" for name, (_, what) in COMMANDS.items()]
    return "\n".join(
        [
            "usage: everyline COMMAND ...",
            "",
            "Every valid short jazz line over a progression, under your own rules.",
            "",
            *rows,
            "",
            "everyline COMMAND --help shows the details; everyline --version shows the version.",
            "Long practice tires hands and ears: rest often, keep the sound low, and ask a teacher or doctor",
            "when something hurts.",
        ]
    )


if __name__ == "__main__":
    sys.exit(main())
