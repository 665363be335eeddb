"""Speaks one text at a time through a program of its own, and never longer than a text can take.

Policy. The program gets the text as its last argument and nothing on its input. It runs in a process group of its own,
so that whatever it has started ends with it: when it is told to stop, or when it has hung. Knows no alarms.
"""

import contextlib
import os
import shutil
import signal
import subprocess
import threading
from collections.abc import Callable, Sequence

# A slow voice says ten letters a second; then half as much again, and a few seconds to wake up. Common practice.
_LETTERS_PER_S = 6.0
_WAKES_UP_S = 5.0
_ENDS_WITHIN_S = 1.0
_LOOKS_EVERY_S = 0.05
_KNOWN = (("spd-say", "--wait"), ("espeak-ng",))


def found_command(look_up: Callable[[str], str | None] = shutil.which) -> tuple[str, ...]:
    """Give how to speak with what is installed: speech-dispatcher first, then espeak-ng; empty where neither is."""
    return next((command for command in _KNOWN if look_up(command[0]) is not None), ())


class Voice:
    """Speaks with `command`, to which the text is appended; `spare_s` is what a text may take beyond its length, s."""

    def __init__(self, command: Sequence[str], spare_s: float = _WAKES_UP_S) -> None:
        self._command = tuple(command)
        self._spare_s = spare_s

    def speak(self, text: str, hushed: threading.Event) -> str:
        """Speak, and come back when it is said or `hushed` is set; gives what went wrong in words, else nothing."""
        try:
            process = subprocess.Popen(
                [*self._command, text],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
            )
        except OSError as error:
            return f"{self._command[0]}: {error.strerror or error}"
        try:
            return self._await(process, len(text) / _LETTERS_PER_S + self._spare_s, hushed)
        finally:
            _end(process)

    def _await(self, process: "subprocess.Popen[bytes]", most_s: float, hushed: threading.Event) -> str:
        left_s = most_s
        while left_s > 0.0:
            if hushed.is_set():
                return ""
            try:
                code = process.wait(_LOOKS_EVERY_S)
            except subprocess.TimeoutExpired:
                left_s -= _LOOKS_EVERY_S
                continue
            return "" if code == 0 else f"{self._command[0]} ended with {code}"
        return f"{self._command[0]} has said nothing to its end for {most_s:.0f} s and was stopped"


def _end(process: "subprocess.Popen[bytes]") -> None:
    """End the program with all it has started; a second time does nothing."""
    for number in (signal.SIGTERM, signal.SIGKILL):
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(process.pid, number)
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(_ENDS_WITHIN_S)
            return
