"""The picture of a heat: everything a display needs at one moment.

The terminal's display and the page both take a `Picture`, which never changes once it is given. A page sends one whole
as it is: every part is a msgspec struct, so `msgspec.json.encode(picture)` is its JSON, with points of the course as
`[time_s, temp_c, low_c, high_c]`, those of the way ahead as `[time_s, way_c, low_c, high_c]`. Afterwards only what is
new need be sent: points after the last `time_s` sent, and everything but `about`, which stays the same for a heat.
"""

from enum import StrEnum

from msgspec import Struct

from rampwarden.core.model import (
    AlarmState,
    EventName,
    HeatStatus,
    Priority,
)
from rampwarden.core.schedule import SegmentKind
from rampwarden.picture.thinned_course import CoursePoint
from rampwarden.picture.way_ahead import WayPoint


class Mode(StrEnum):
    """What is being looked at: nobody may take a rehearsal or a replay for a furnace."""

    LIVE = "live"
    REHEARSAL = "rehearsal"
    REPLAY = "replay"


class SegmentLine(Struct, frozen=True):
    """One segment in words: where it leads, how fast it may go, and the schedule's own instruction.

    `rules` is the one rule to keep, in forms that grow shorter.
    """

    number: int
    name: str
    kind: SegmentKind
    aim: str
    limits: str
    say: str
    rules: tuple[str, ...] = ()


class AboutHeat(Struct, frozen=True):
    """What stays the same for a whole heat. `started` is wall time (ISO 8601, UTC); `record` a path, or empty."""

    title: str
    basis: str
    mode: Mode
    started: str
    record: str
    crucible: str
    metal: str
    segments: tuple[SegmentLine, ...]


class BesideCourse(Struct, frozen=True):
    """The course of a probe beside the followed one, by its name and place; its points have no edges."""

    probe: str
    place: str
    points: tuple[CoursePoint, ...]


class AlarmLine(Struct, frozen=True):
    """One standing alarm with what its catalogue entry tells a person. `waits` until somebody acknowledges it.

    `action` is what to do now, with the `time_to_act` there is for it, and `order` the same in at most twenty letters;
    all are empty where there is nothing to do, or the order of the alarm `yields_to` comes first. `is_first`: this is
    the order to carry out first. `state_word` stands before everything else; `where` says when it rang and in which
    segment; `text` is one whole sentence, `fact` what is so now or was at its worst, without saying that it is over.
    """

    alarm: str
    state: AlarmState
    priority: Priority
    text: str
    action: str
    why: str
    time_to_act: str
    since_s: float
    waits: bool
    order: str = ""
    is_first: bool = False
    yields_to: str = ""
    state_word: str = ""
    where: str = ""
    fact: str = ""
    worst: str = ""
    raised_s: float = 0.0
    ended_s: float | None = None
    segment: str | None = None


class Happening(Struct, frozen=True):
    """A dated point of the heat: a segment begun, an alarm raised, a note, a mark, something observed.

    `is_statement`: the watch says so, and a person may answer that it was wrong.
    """

    time_s: float
    event: EventName
    text: str
    priority: Priority | None = None
    alarm: str = ""
    is_statement: bool = False


class Withdrawn(Struct, frozen=True):
    """Names a happening that was said to be wrong, by what tells it from all others."""

    time_s: float
    alarm: str
    text: str


class Broker(StrEnum):
    """Whether anybody is reached over MQTT."""

    NONE = "none"
    WAITING = "not reached yet"
    REACHED = "reached"
    LOST = "lost"


class Health(Struct, frozen=True):
    """How board, record and broker are. Troubles are sentences, empty while all is well; counts are of this watch."""

    board_trouble: str = ""
    lost_frames: int = 0
    garbled_lines: int = 0
    record_trouble: str = ""
    broker: Broker = Broker.NONE
    broker_trouble: str = ""


class Picture(Struct, frozen=True):
    """A heat at one moment. `number` grows with every change; `shown_at_s` is this computer's monotonic clock then.

    A reading's age is `status.time_s - status.read_s`, and the picture's own age comes on top of it: a display that
    shows neither shows a frozen temperature as a present one. `doing` is the phase in words, `kept` how much of a
    segment's time has been kept, with what of it is not confirmed; empty where there is none to keep. `next_in` and
    `done_in` say how long still, as wide as the guess is: "…" while it is too early, empty where nobody knows;
    `stops` that the climb will not get where it should; `learnt` from how many earlier heats the times are.
    `watched` says whose temperature it is, empty where nobody has said where the probe hangs; `physics` what is
    reckoned of wall, bottle and water, a line each, where that is known. `present` is None
    outside any segment, and while a pot still hot is watched to its end. `low_c` and `high_c` are the corridor now.
    `unfiled` is how many of the latest happenings are not yet on disk. `pace` is how many seconds of the heat pass in
    one real one. `over`: the watch has ended, nothing will change any more. `beside` has the courses of the other
    probes.
    """

    number: int
    about: AboutHeat
    status: HeatStatus
    shown_at_s: float
    doing: str
    kept: str
    next_in: str
    done_in: str
    stops: str
    learnt: str
    watched: str
    physics: tuple[str, ...]
    present: SegmentLine | None
    coming: SegmentLine | None
    low_c: float | None
    high_c: float | None
    alarms: tuple[AlarmLine, ...]
    health: Health
    course: tuple[CoursePoint, ...]
    ahead: tuple[WayPoint, ...]
    happenings: tuple[Happening, ...]
    withdrawn: tuple[Withdrawn, ...]
    unfiled: int
    pace: float
    paused: bool
    over: bool
    beside: tuple[BesideCourse, ...] = ()

    @property
    def newest_statement(self) -> Happening | None:
        """What was said last and not withdrawn since; None where nothing was, or the last is withdrawn already."""
        said = next((each for each in reversed(self.happenings) if each.is_statement), None)
        if said is None or Withdrawn(said.time_s, said.alarm, said.text) in self.withdrawn:
            return None
        return said

    @property
    def first_order(self) -> AlarmLine | None:
        """The alarm whose order is to be carried out first; None where nothing is ordered."""
        return next((each for each in self.alarms if each.is_first), None)

    @property
    def reading_age_s(self) -> float | None:
        """How old the reading behind the temperature was when the picture was made, s of the heat; None without one."""
        return None if self.status.read_s is None else max(0.0, self.status.time_s - self.status.read_s)

    def reading_age_by(self, now_s: float) -> float | None:
        """Give how old it is by `now_s` (real, monotonic), s of the heat; None before the first."""
        age_s = self.reading_age_s
        if age_s is None or self.paused or self.over:
            return age_s
        return age_s + max(0.0, now_s - self.shown_at_s) * self.pace
