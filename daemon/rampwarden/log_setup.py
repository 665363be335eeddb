"""Log lines, configured once: sentences for a person, or JSON for whoever asked for it.

The text form shows the watch's own elapsed time, so that a rehearsal at 600 times the speed reads like the real heat.
Text from boards, notes and records is stripped of control characters before it can reach a terminal.
"""

from collections import deque
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Literal

from rampwarden.core.model import PEOPLES_WORDS
from rampwarden.log_lines import LogLines
from rampwarden.plain_logs import structlog
from rampwarden.terminal_text import elapsed, folded, printable, shortened, visible_json

if TYPE_CHECKING:
    from structlog.typing import EventDict, WrappedLogger

__all__ = ["RecentLines", "configure_logging"]

_COLOURS: Mapping[object, str] = {"high": "\x1b[1;31m", "medium": "\x1b[33m", "low": "\x1b[36m"}
_PLAIN = "\x1b[0m"
# Columns of the elapsed time and what parts it from its sentence.
_CLOCK = 10
# A terminal that is no wider breaks lines itself.
_NARROWEST = 12


# More than the tallest terminal shows.
_MOST_RECENT = 60


class RecentLines:
    """The last sentences of note, for a display. While `taken_over` it alone shows them, and the terminal gets none.

    Lines that only repeat where the heat stands are left out: a display shows that anyway.
    """

    def __init__(self) -> None:
        self.lines: deque[str] = deque(maxlen=_MOST_RECENT)
        self.count = 0
        self.taken_over = False

    def take(self, logger: "WrappedLogger", method: str, entry: "EventDict") -> "EventDict":
        """Look on at a log entry on its way, and keep it from the terminal while that is taken over."""
        if entry.get("kind") != "status":
            self.lines.append(_sentence(entry))
            self.count += 1
        if self.taken_over:
            raise structlog.DropEvent
        return entry


def configure_logging(
    form: Literal["text", "json"],
    lines: LogLines,
    recent: RecentLines | None = None,
    said_as: Callable[[str], str] = str,
) -> None:
    """Set up structlog for the whole process; called by the command line and nowhere else.

    `recent` looks on, for a display on the terminal, and keeps sentences as they are worded; `said_as` turns those
    that a person reads, as into °F: never JSON, and never what people wrote.
    """
    renderers: list[structlog.typing.Processor]
    if form == "json":
        renderers = [
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            structlog.processors.format_exc_info,
            _VisibleJson(),
        ]
    else:
        renderers = [structlog.processors.format_exc_info, _SentenceRenderer(lines, said_as)]
    structlog.configure(
        processors=renderers if recent is None else [recent.take, *renderers],
        logger_factory=lambda *_: lines,
        cache_logger_on_first_use=False,
    )


class _VisibleJson:
    """Renders one log entry as JSON with what is invisible as its escape: a journal is read on a terminal."""

    def __init__(self) -> None:
        self._render = structlog.processors.JSONRenderer(ensure_ascii=False)

    def __call__(self, logger: "WrappedLogger", method: str, entry: "EventDict") -> str:
        shown = {key: shortened(value) if isinstance(value, str) else value for key, value in entry.items()}
        return visible_json(str(self._render(logger, method, shown)))


class _SentenceRenderer:
    """Renders one log entry as elapsed time, and its sentence in the colour of its priority, folded between words."""

    def __init__(self, lines: LogLines, said_as: Callable[[str], str]) -> None:
        self._lines, self._said_as = lines, said_as
        self._colour = lines.on_terminal

    def __call__(self, logger: "WrappedLogger", method: str, entry: "EventDict") -> str:
        if entry.get("kind") not in PEOPLES_WORDS:
            entry = {**entry, "event": self._said_as(str(entry.get("event", "")))}
        sentence = _sentence(entry)
        if columns := self._lines.columns:
            # What is folded stands below the sentence, clear of the column of times.
            beside = folded(sentence[_CLOCK:], max(columns - _CLOCK, _NARROWEST))
            sentence = sentence[:_CLOCK] + beside.replace("\n", "\n" + " " * _CLOCK)
        colour = _COLOURS.get(entry.get("priority"), "") if self._colour else ""
        lines = str(entry["exception"]).split("\n") if "exception" in entry else []
        trouble = "".join(f"\n{printable(line)}" for line in lines)
        return f"{sentence[:_CLOCK]}{colour}{sentence[_CLOCK:]}{_PLAIN if colour else ''}{trouble}"


def _sentence(entry: "EventDict") -> str:
    """Give an entry as elapsed time and its sentence, harmless to any terminal."""
    time_s = entry.get("time_s")
    shown = elapsed(time_s) if isinstance(time_s, float) else ""
    return f"{shown:>{_CLOCK - 2}}  {shortened(printable(str(entry.get('event', ''))))}"
