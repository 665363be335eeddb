"""Log lines, configured once: sentences for a person on a terminal, JSON for a journal.

The text form shows the watch's own elapsed time, so that a rehearsal at 600 times the speed reads like the real heat.
Text from boards, notes and records is stripped of control characters before it can reach a terminal.
"""

import unicodedata
from collections.abc import Mapping
from typing import Literal

import structlog
from structlog.typing import EventDict, WrappedLogger

from rampwarden.log_lines import LogLines

_COLOURS: Mapping[object, str] = {"high": "\x1b[1;31m", "medium": "\x1b[33m", "low": "\x1b[36m"}
_PLAIN = "\x1b[0m"


def configure_logging(form: Literal["auto", "text", "json"], lines: LogLines) -> None:
    """Set up structlog for the whole process; called by the command line and nowhere else."""
    on_terminal = lines.on_terminal
    renderers: list[structlog.typing.Processor]
    if form == "json" or (form == "auto" and not on_terminal):
        renderers = [
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            structlog.processors.format_exc_info,
            structlog.processors.JSONRenderer(ensure_ascii=False),
        ]
    else:
        renderers = [structlog.processors.format_exc_info, _SentenceRenderer(colour=on_terminal)]
    structlog.configure(
        processors=renderers,
        logger_factory=lambda *_: lines,
        cache_logger_on_first_use=False,
    )


def printable(text: str) -> str:
    """Give the text with every control character replaced: what a board sends must not steer a terminal."""
    if text.isprintable():
        return text
    return "".join("�" if unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Co") else letter for letter in text)


def elapsed(seconds: float) -> str:
    """Give elapsed time as h:mm:ss."""
    whole = max(0, int(seconds))
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


class _SentenceRenderer:
    """Renders one log entry as elapsed time, and its sentence in the colour of its priority."""

    def __init__(self, *, colour: bool) -> None:
        self._colour = colour

    def __call__(self, logger: WrappedLogger, method: str, entry: EventDict) -> str:
        sentence = printable(str(entry.get("event", "")))
        time_s = entry.get("time_s")
        shown = elapsed(time_s) if isinstance(time_s, float) else " " * 7
        colour = _COLOURS.get(entry.get("priority"), "") if self._colour else ""
        trouble = f"\n{entry['exception']}" if "exception" in entry else ""
        return f"{shown:>8}  {colour}{sentence}{_PLAIN if colour else ''}{trouble}"
