"""When a heat was, as the clocks show it where the report is read: a record has it in UTC."""

from datetime import datetime, tzinfo

from rampwarden.terminal_text import printable


def began_words(started: str, zone: tzinfo | None = None) -> str:
    """Give the minute a heat began in `zone`, here where it is None; what is no time is shown as it is.

    >>> from datetime import UTC
    >>> began_words("2026-01-01T09:00:00Z", UTC)
    '2026-01-01 09:00 UTC'
    """
    try:
        return f"{datetime.fromisoformat(started).astimezone(zone):%Y-%m-%d %H:%M %Z}"
    except ValueError:
        return printable(started)


def day_words(started: str, zone: tzinfo | None = None) -> str:
    """Give the day a heat began, in the same way."""
    return began_words(started, zone)[:10]
