"""Every error a person can cause or meet, as one small tree.

Library exceptions are translated into these at the edge, with the cause kept. Each message is one line that says
what, where, why and what would be right.
"""

import msgspec

UNREADABLE_JSON = (msgspec.DecodeError, UnicodeDecodeError, RecursionError)
"""What a decoder raises on bytes that are none of ours: bad UTF-8 and a thousand brackets among them."""


class RampwardenError(Exception):
    """Anything rampwarden refuses or cannot do; its text is fit to show a person."""


class MistypedError(RampwardenError):
    """A command that cannot be called as it was typed."""


class QuantityError(RampwardenError, ValueError):
    """A written quantity that cannot be read, or has the wrong dimension."""


class AmbiguousNumberError(QuantityError):
    """A number that may mean two things, such as 1,200: `readings` has both as they would be written beyond doubt."""

    def __init__(self, written: str, *readings: str) -> None:
        super().__init__(f"{written} may mean {' or '.join(readings)}; write one of these two")
        self.readings = readings


class ScheduleError(RampwardenError):
    """A schedule that cannot be watched; lists every fault found, one a line."""


class ScheduleUnreadableError(ScheduleError):
    """A schedule file that is not there, not to be read, or no TOML."""


class SettingsError(RampwardenError):
    """A setting that is unknown, out of range or of the wrong kind."""


class OpenSecretError(SettingsError):
    """A password, token or key in a file that every user of the computer can read: it is not used."""


class RecordError(RampwardenError):
    """A heat record or CSV file that cannot be read or written."""


class ForeignLogError(RampwardenError):
    """A log of another instrument in which no reading can be found."""


class LogQuestionError(ForeignLogError):
    """A log that leaves something open; `options` would settle it on the command line, each with its meaning."""

    def __init__(self, question: str, options: tuple[tuple[str, str], ...]) -> None:
        super().__init__(question)
        self.options = options


class StoreError(RampwardenError):
    """Tables, in a file or on a server, that cannot be read or written, or will not take what they are given."""


class RegisterError(StoreError):
    """A crucible register that cannot be read or written, or will not take what it is given."""


class ArchiveError(StoreError):
    """An archive of heats that cannot be read or written, or will not take what it is given."""


class ReplayClusterError(RampwardenError):
    """A cluster for replays that is not there or cannot be used."""


class UnknownMarkError(RegisterError):
    """A mark under which no crucible is registered."""


class ReportError(RampwardenError):
    """A report that cannot be drawn or written."""


class PortError(RampwardenError):
    """A serial port that cannot be opened or has gone."""


class BrokerError(RampwardenError):
    """An MQTT broker that cannot be reached, or will not have us."""


class ControlError(RampwardenError):
    """A word to a running watch that cannot be passed on, or a watch that cannot be reached."""


class AlarmTransitionError(RampwardenError):
    """An input that the alarm's state does not allow; nothing was changed."""


class HeatTransitionError(RampwardenError):
    """A happening that the heat's phase does not allow; nothing was changed."""
