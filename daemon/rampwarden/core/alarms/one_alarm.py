"""One alarm between two changes of state: its delays, what was last found of it, its rest when it was said to be wrong.

Which states follow one another is the desk's table. Reads no clock.
"""

import math

from rampwarden.core.alarm_entry import AlarmEntry
from rampwarden.core.model import AlarmState, Finding

FACT_RESTS_S = 300.0
"""s. So long a fact that was said to be wrong is silent unless it grows worse: common practice, no source. A furnace
at 20 °C/min goes 100 °C further meanwhile (own arithmetic): whoever erred must be told by then."""
# Asked at every reading while an alarm stands, and so looked up once (see `SegmentKind.heats`).
_STANDING = (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED)
_SAID_WRONG = AlarmState.SAID_WRONG
_WORSE_SHARE_OF_EXCESS = 0.5
_WORSE_SHARE_OF_LIMIT = 0.1
"""By so much more a fact must exceed its limit than it had before the answer, to be worse: half as much again, and at
least the entry's deadband or a tenth of the limit, so that scatter alone is not worse. Common practice, no source."""


class OneAlarm:
    """One alarm's state, its delay timer and what was last found."""

    __slots__ = (
        "appeared_s",
        "cleared_s",
        "entry",
        "finding",
        "name",
        "now",
        "overtaken_by",
        "present",
        "raised_s",
        "rests_until_s",
        "segment",
        "shelved_until_s",
        "since_s",
        "state",
        "untold",
        "worst",
        "worst_found",
    )

    def __init__(self, name: str, entry: AlarmEntry) -> None:
        self.name = name
        self.entry = entry
        self.state = AlarmState.NORMAL
        self.since_s = 0.0
        self.raised_s = 0.0
        # What was found when it was raised, is found now, and was the worst of it since.
        self.finding = self.now = self.worst_found = Finding(None, None, None, "")
        self.present = False
        # Where in the schedule it was raised, and beside which alarm it was not looked for any more.
        self.segment: tuple[str, int] | None = None
        self.overtaken_by = ""
        # A normal alarm is suppressed without a word, so without a word it comes back.
        self.untold = False
        # At most one of these runs: the on-delay from `appeared_s`, the off-delay from `cleared_s`.
        self.appeared_s: float | None = None
        self.cleared_s: float | None = None
        self.shelved_until_s = math.inf
        # Of a fact that was said to be wrong: until when it rests, and by how much it exceeded its limit at the worst.
        self.rests_until_s = math.inf
        self.worst = 0.0

    @property
    def standing(self) -> bool:
        """The watch says that the condition is present."""
        return self.state in _STANDING

    def note(self, finding: Finding) -> None:
        """Take note of what is found of it now."""
        self.now = finding
        if self._beyond(finding) > self._beyond(self.worst_found):
            self.worst_found = finding

    @property
    def worst_value(self) -> float | None:
        """The worst figure that was found of it; None where it has none, foretells, or was judged once."""
        is_followed = self.entry.waits_for_reading and not self.entry.is_opinion
        return self.worst_found.value if is_followed else None

    @property
    def worst_words(self) -> str:
        """The same in words, without what explained it then."""
        return "" if self.worst_value is None else bare_fact(self.worst_found)

    def _beyond(self, finding: Finding) -> float:
        """Give how far a finding lies beyond its limit, on the side where it did when it was raised."""
        if finding.value is None:
            return -math.inf
        was_above = (self.finding.value or 0.0) >= (self.finding.limit or 0.0)
        beyond = finding.value - (finding.limit or 0.0)
        return beyond if was_above else -beyond

    @property
    def waits_to_clear(self) -> bool:
        """The condition counts as present, though somebody may have said that it is not."""
        return self.standing or self.state is _SAID_WRONG

    @property
    def rests(self) -> bool:
        """It was said to be wrong, and neither its coming back nor its end is on its way."""
        return self.state is _SAID_WRONG and self.appeared_s is None and self.cleared_s is None

    @property
    def needs_confirming(self) -> bool:
        """What is due here waits for the next judgement; the end of shelving, or of a rest, does not."""
        return self.entry.waits_for_reading and self.state is not AlarmState.SHELVED and not self.rests

    def has_grown_worse(self, finding: Finding) -> bool:
        """Tell whether a fact exceeds its limit by clearly more than it ever did before it was said to be wrong."""
        least = self.entry.deadband or _WORSE_SHARE_OF_LIMIT * abs(finding.limit or 0.0)
        step = max(least, _WORSE_SHARE_OF_EXCESS * self.worst)
        return step > 0.0 and excess(finding) >= self.worst + step

    @property
    def ends_s(self) -> float:
        """When the running delay, the shelving or the rest ends."""
        if self.state is AlarmState.SHELVED:
            return self.shelved_until_s
        if self.appeared_s is not None:
            return self.appeared_s + self.entry.on_delay_s
        if self.cleared_s is not None:
            return self.cleared_s + self.entry.off_delay_s
        return self.rests_until_s if self.state is _SAID_WRONG else math.inf


def bare_fact(finding: Finding) -> str:
    """Give what was found without the explanation that may stand behind it."""
    return finding.what.partition(";")[0]


def excess(finding: Finding) -> float:
    """Give by how much a finding exceeds its limit, in its own unit; 0 of what has no figure."""
    return 0.0 if finding.value is None else abs(finding.value - (finding.limit or 0.0))
