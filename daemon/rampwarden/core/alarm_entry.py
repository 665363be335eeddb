"""What there is to say of an alarm: one entry, which stands beside the code that judges it.

An alarm is there because a person can do something about it in time (IEC 62682 calls that rationalisation). Delays and
deadbands are starting values: common practice, no source, unless a line says otherwise. Settings may change priority
and delays of an alarm, never its meaning. Whatever lists alarms (the catalogue, the settings file's sections, the
table in the README, the broker's topics, the report) takes its words from here.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from rampwarden.core.model import Finding, Priority
from rampwarden.core.short_orders import ShortOrder


class ReportMeaning(StrEnum):
    """What a report says of a heat in which the alarm was raised, gravest first."""

    HEATED_TOO_FAST = "heated-too-fast"
    COOLED_TOO_FAST = "cooled-too-fast"
    OVERHEATED = "overheated"
    TOO_SLOW = "too-slow"
    OUT_OF_BAND = "out-of-band"
    OVERDUE = "overdue"
    READING_IN_DOUBT = "reading-in-doubt"
    JUNCTION_IN_DOUBT = "junction-in-doubt"
    NO_VERDICT = "no-verdict"

    @property
    def breaks_schedule(self) -> bool:
        """Whether it says that the schedule itself was left."""
        return not self.casts_doubt and self is not ReportMeaning.NO_VERDICT

    @property
    def casts_doubt(self) -> bool:
        """Whether the reading, and so the verdict, is itself in doubt."""
        return self in (ReportMeaning.READING_IN_DOUBT, ReportMeaning.JUNCTION_IN_DOUBT)


class ReadingDoubt(StrEnum):
    """What an alarm of the sensor leaves of the reading while it stands.

    MEANINGLESS: nothing; whatever would order something because of it rests. UNCERTAIN: something of the furnace, and
    not all of it right; alarms go on ringing, and say to check the probe instead of what the reading would have one do.
    LATE: the truth, later and smaller; what it shows of a climb or a fall is at least so, and only an order for more
    heat may be a mistake.
    """

    NONE = "none"
    LATE = "late"
    UNCERTAIN = "uncertain"
    MEANINGLESS = "meaningless"


CHECK_THE_PROBE = "do not trust the reading: hold the heat and check the probe"
"""What is to be done instead of an order that comes from a reading in doubt."""


@dataclass(frozen=True, slots=True)
class AlarmEntry:
    """One alarm: `on_delay_s` and `off_delay_s` in seconds, `deadband` in the unit of the alarm's value.

    `about_delays`: why they are what they are. `waits_for_reading`: the delays end only on a reading that confirms
    them, never by the clock alone. One reading out of range, with the next one still on its way, is a spark and no
    alarm. `rests_in_transfer`: while the pot is carried the probe hangs in the air or is unplugged, and what this alarm
    would say then is no news. `rests_in_doubt`: what it tells a person to do comes from the reading alone, so while the
    reading has no meaning it tells nothing. `doubts`: what it leaves of the reading. `action_in_doubt`: what to do in
    place of an `action` that comes from the reading, while that is in doubt; empty where the action does not.
    `wants_more_heat`: obeyed in error, the action heats a pot that is hot enough. `matters_after_heat`: it still does
    once the schedule is done, the probe is pulled and the board unplugged. `is_opinion`: it explains or foretells what
    is measured, and whoever stands at the furnace may know better: said to be wrong, it rests until its condition has
    gone once. Anything else is a fact, and rings again (`alarms/desk.py`). `look_at`: what a report advises to look at
    before the next heat. `short_order`: the action in at most twenty letters; `short_order_below` where the value lies
    below its limit and that asks for something else, `short_order_in_doubt` beside `action_in_doubt`. `action_milder`,
    `short_order_milder`: in place of these where what they ask for has been done, or is not needed yet
    (`Finding.milder`); empty where that is not known. `overtaken_by`:
    alarms beside which this one is not looked for any more: gone while one of them stands, it is not back to normal.
    `ends_when_seen`: it only waits to be read, whole, and is over once somebody has acknowledged it.
    """

    name: str
    condition: str
    priority: Priority
    on_delay_s: float
    off_delay_s: float
    about_delays: str
    why: str
    action: str
    time_to_act: str
    deadband: float = 0.0
    waits_for_reading: bool = True
    rests_in_transfer: bool = False
    rests_in_doubt: bool = False
    doubts: ReadingDoubt = ReadingDoubt.NONE
    action_in_doubt: str = ""
    wants_more_heat: bool = False
    matters_after_heat: bool = False
    is_opinion: bool = False
    report: ReportMeaning = ReportMeaning.NO_VERDICT
    look_at: tuple[str, ...] = ()
    short_order: ShortOrder = ShortOrder.NONE
    short_order_below: ShortOrder = ShortOrder.NONE
    short_order_in_doubt: ShortOrder = ShortOrder.NONE
    action_milder: str = ""
    short_order_milder: ShortOrder = ShortOrder.NONE
    overtaken_by: tuple[str, ...] = ()
    ends_when_seen: bool = False

    def order(self, finding: Finding | None = None, *, in_doubt: bool) -> str:
        """Give what to do about it, for what was found of its condition.

        `in_doubt`: while the reading is in doubt that its action would come from.
        """
        if in_doubt and self.action_in_doubt:
            return self.action_in_doubt
        return self.action_milder if finding is not None and finding.milder and self.action_milder else self.action

    def order_in_short(self, finding: Finding, *, in_doubt: bool) -> ShortOrder:
        """Give the same in few letters, for what was found of its condition."""
        if in_doubt and self.action_in_doubt:
            return self.short_order_in_doubt
        if finding.milder and self.short_order_milder:
            return self.short_order_milder
        is_below = finding.value is not None and finding.limit is not None and finding.value < finding.limit
        return self.short_order_below if is_below and self.short_order_below else self.short_order


def names(entries: Iterable[AlarmEntry]) -> tuple[str, ...]:
    """Give the names of entries, in their order."""
    return tuple(entry.name for entry in entries)
