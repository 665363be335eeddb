"""Sentences of a command: broken between words on a terminal, whole elsewhere."""

import os
import pty
import sys
import tty

import pytest

from rampwarden.cli.saying import columns_of, say


@pytest.mark.parametrize("to_errors", [False, True])
def test_a_sentence_is_folded_on_a_terminal_only(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], to_errors: bool
) -> None:
    """A program that reads it gets one line; a person no word that is cut in two."""
    sentence = "  1  " + "word " * 20 + "end\x1b"
    say(sentence, hanging=5, to_errors=to_errors)
    assert capsys.readouterr()[to_errors] == f"{sentence[:-1]}�\n"
    reading, writing = pty.openpty()
    tty.setraw(writing)
    with os.fdopen(writing, "w") as terminal:
        monkeypatch.setattr(sys, "stderr" if to_errors else "stdout", terminal)
        assert columns_of(terminal.fileno()) == 80
        say(sentence, hanging=5, to_errors=to_errors)
        shown = b""
        # One line feed stands between the two lines, the other ends them.
        while shown.count(b"\n") < 2:
            shown += os.read(reading, 1000)
    os.close(reading)
    assert shown.decode() == "  1  " + ("word " * 15).rstrip() + "\n     " + "word " * 5 + "end�\n"
