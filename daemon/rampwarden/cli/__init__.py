"""The command line: one module a command, and here only how they hang together and how they fail.

A command's module is imported when it is called for, and none where they are only listed: whoever lists crucibles must
not wait for serial ports and brokers to be loaded, which takes longer than the answer. What is typed in the plainest
way, as most is, is called at once (`plain_calls`); options, help and mistakes are the business of `application`.
"""

import io
import os
import sys
from pathlib import Path

from rampwarden.cli.exit_status import FINE, UNUSABLE
from rampwarden.cli.plain_calls import plain_call
from rampwarden.cli.saying import say
from rampwarden.errors import RampwardenError
from rampwarden.terminal_text import error_lines

__all__ = ["run"]


def run() -> None:
    """Run the command line: every mistake a person can make ends in one line and an exit status, never a traceback."""
    _mend_streams()
    sys.exit(_run(sys.argv[1:]))


def _mend_streams() -> None:
    """Give every standard stream somewhere to go, and a way to write what its encoding lacks.

    A stream may be closed by whoever starts us, and the next file to be opened, perhaps a record, would take its place.
    """
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, Path(os.devnull).open(mode, encoding="utf-8"))  # noqa: SIM115  (for good)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _run(arguments: list[str]) -> int:
    try:
        status = _call(arguments)
        sys.stdout.flush()
    except RampwardenError as error:
        return _refuse(str(error))
    except KeyboardInterrupt:
        return 130
    except (BrokenPipeError, SystemExit):
        # Whoever read our output has seen enough; typer makes an exit of it, and of nothing else.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FINE
    except OSError as error:
        _let_go_of_output()
        return _refuse(f"{error.filename or 'standard output'}: {error.strerror}")
    return status if isinstance(status, int) else FINE


def _call(arguments: list[str]) -> object:
    plain = plain_call(arguments)
    if plain is not None:
        return plain()
    from rampwarden.cli.application import call  # noqa: PLC0415 (a plain call does without)

    return call(arguments)


def _let_go_of_output() -> None:
    """Drop what standard output does not take: Python would complain once more while closing it."""
    try:
        sys.stdout.flush()
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _refuse(message: str) -> int:
    for line in error_lines(message):
        say(f"rampwarden: {line}", to_errors=True)
    return UNUSABLE
