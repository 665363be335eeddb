"""The frozen records that cross between the stages, and the one JSON form each of them has.

Inputs are what the watch is told (`Reading`, `Command`, `Notice`, `ClockMark`); events are what it says. Both are
lines of the heat record, so each carries a `kind`. Everything else here stays inside the core and its displays.

The records are msgspec structs: frozen like a dataclass, ten times cheaper to make, and decoding one from a line
also checks it. Units stand in the names; temperatures are °C, EMFs µV, times seconds since the heat began.
"""

import math
from enum import Enum, StrEnum

from msgspec import Struct

FREEZING_POINTS_C = {"zinc": 419.527, "aluminium": 660.323, "copper": 1084.62}
"""°C, where pure metals melt and freeze: defining fixed points of the ITS-90 (Metrologia 27, 3, 1990)."""


class Fault(StrEnum):
    """What the board itself says is wrong with a conversion."""

    OPEN = "open"
    SHORT_GROUND = "short-ground"
    SHORT_SUPPLY = "short-supply"
    CONVERTER = "converter"
    JUNCTION = "junction"


class Reading(Struct, frozen=True, gc=False, tag_field="kind", tag="reading", omit_defaults=True):
    """One conversion of the board.

    `emf_uv` is the EMF as measured, with the reference junction at `junction_c`: nothing has been compensated yet.
    A board that only tells a temperature gives `temp_c` instead.
    """

    time_s: float
    emf_uv: float | None = None
    junction_c: float | None = None
    temp_c: float | None = None
    faults: tuple[Fault, ...] = ()
    channel: int = 0


class ProbeReading(Struct, frozen=True, gc=False, tag_field="kind", tag="probe", omit_defaults=True):
    """One conversion of another probe than the one the schedule follows, by that probe's name; else as `Reading`.

    A line of its own kind: whoever knows of one probe only must never take it for the pot's.
    """

    time_s: float
    probe: str
    emf_uv: float | None = None
    junction_c: float | None = None
    temp_c: float | None = None
    faults: tuple[Fault, ...] = ()


class CommandName(StrEnum):
    """What a person may tell the watch."""

    ACKNOWLEDGE = "acknowledge"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    NOTE = "note"
    MARK = "mark"
    SKIP_SEGMENT = "skip-segment"
    END_HEAT = "end-heat"
    WRONG = "wrong"
    UNDO_WRONG = "undo-wrong"
    ANSWER = "answer"


class Command(Struct, frozen=True, tag_field="kind", tag="command", omit_defaults=True):
    """A person's word to the watch. `alarm` empty means every alarm; `text` is the note, mark or reason.

    `wrong` is said of `alarm`, else of the message that begins with `text`, else of the newest statement. `answer` is
    said to `question` by its number, else to the one that offers it, else to the one that has waited longest.
    """

    time_s: float
    command: CommandName
    alarm: str = ""
    minutes: float = 0.0
    text: str = ""
    by: str = ""
    question: int = 0


class NoticeName(StrEnum):
    """News of the board, its line and our own outputs: inputs like any other."""

    BOARD_RESTARTED = "board-restarted"
    PORT_OPENED = "port-opened"
    PORT_LOST = "port-lost"
    GARBLED = "garbled"
    FRAMES_LOST = "frames-lost"
    RECORD_FAILING = "record-failing"
    RECORD_WRITTEN = "record-written"
    WATCH_RESUMED = "watch-resumed"
    BROKER_LOST = "broker-lost"
    BROKER_REACHED = "broker-reached"
    OUTPUT_FAILING = "output-failing"
    START_WARNING = "start-warning"


class Notice(Struct, frozen=True, tag_field="kind", tag="notice", omit_defaults=True):
    """News of the board or its line: `count` lines or frames, `text` in a person's words.

    `board` names a further board, which the followed probe is not connected to; empty for the one it is.
    """

    time_s: float
    notice: NoticeName
    count: int = 0
    text: str = ""
    board: str = ""


class ClockMark(Struct, frozen=True, gc=False, tag_field="kind", tag="clock"):
    """Nothing else came until `time_s`: silence is an input too."""

    time_s: float


class EarlierLeg(Struct, frozen=True):
    """One segment of an earlier heat, whole: its kind, how long it took, and when it passed which temperature.

    `course` is (s since it began, °C), each further than the one before; `limit_c_per_s` its slowest limit, if any.
    """

    segment: str
    lasted_s: float
    to_c: float | None = None
    hold_s: float = 0.0
    limit_c_per_s: float | None = None
    course: tuple[tuple[float, float], ...] = ()


class EarlierHeat(Struct, frozen=True, tag_field="kind", tag="earlier", omit_defaults=True):
    """What an earlier heat of the same furnace and pot shows of its pace; `heat` is that heat's id.

    An input, so that a replay knows what the watch knew.
    """

    time_s: float
    heat: str = ""
    legs: tuple[EarlierLeg, ...] = ()


Input = Reading | ProbeReading | Command | Notice | ClockMark | EarlierHeat


class Priority(StrEnum):
    """How soon a person must act (IEC 62682)."""

    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"


class AlarmState(StrEnum):
    """The alarm states of IEC 62682 / ISA-18.2, and one of ours."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED_UNACKNOWLEDGED = "returned-unacknowledged"
    SHELVED = "shelved"
    SAID_WRONG = "said-wrong"  # ours: withdrawn on a person's word, while the condition is still found
    SUPPRESSED = "suppressed-by-design"
    OUT_OF_SERVICE = "out-of-service"


URGENCY = {Priority.HIGH: 0, Priority.MEDIUM: 1, Priority.LOW: 2}
"""The rank of a priority where the most urgent comes first."""
WAITING = (AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED)
"""The states in which an alarm waits for somebody to acknowledge it."""


class EventName(StrEnum):
    """What an event line is about. An alarm needs an operator; the others are messages."""

    ALARM = "alarm"
    HEAT_STARTED = "heat-started"
    SEGMENT_STARTED = "segment-started"
    SOAK_COMPLETE = "soak-complete"
    SCHEDULE_DONE = "schedule-done"
    HEAT_COMPLETE = "heat-complete"
    HEAT_ENDED = "heat-ended"
    NOTE = "note"
    MARK = "mark"
    OBSERVED = "observed"
    ASKED = "asked"
    ANSWERED = "answered"
    REFUSED = "command-refused"


def mark_name(text: str) -> str:
    """Give a mark's text as the usual marks are named: however it was typed or said.

    >>> mark_name(" Lid_open "), mark_name("bottle changed")
    ('lid-open', 'bottle-changed')
    """
    return "-".join(text.lower().replace("_", " ").replace("-", " ").split())


PEOPLES_WORDS = (EventName.NOTE, EventName.MARK, EventName.ASKED, EventName.ANSWERED)
"""Events that say what a person wrote: shown as theirs, as they wrote it, and in no other degrees."""


class Event(Struct, frozen=True, tag_field="kind", tag="event", omit_defaults=True):
    """One fact the watch states. `text` is what a person reads; alarm fields are absent on messages.

    `segment` is the name of the segment it belongs to, `segment_number` its place in the schedule, from 1: names may
    recur. Both are None outside any segment; records of the first version carry the name alone. `withdraws` is when the
    statement was made that this one takes back, `upholds` that of one taken back before that stands after all. `worst`
    stands where an alarm ends: its worst figure since it rang. `question` is the number of the one that is asked or
    answered. `pressing`: an alarm that stands rings again because it asks for more than it did.
    """

    time_s: float
    event: EventName
    alarm: str | None = None
    state: AlarmState | None = None
    priority: Priority | None = None
    value: float | None = None
    limit: float | None = None
    unit: str | None = None
    segment: str | None = None
    segment_number: int | None = None
    text: str = ""
    withdraws: float | None = None
    upholds: float | None = None
    worst: float | None = None
    question: int | None = None
    pressing: bool = False

    @property
    def raises_alarm(self) -> bool:
        """Whether an alarm rings here that did not stand before; one that stands after all had rung already."""
        rings = self.event is EventName.ALARM and self.state is AlarmState.UNACKNOWLEDGED
        return rings and self.upholds is None and not self.pressing


class Quality(Enum):
    """Whether a temperature may be used for alarms."""

    GOOD = "good"
    HELD = "held"  # set aside by the outlier gate or settling after a fault
    BAD = "bad"  # no temperature at all: faults, or outside the thermocouple's range


class Measurement(Struct, frozen=True, gc=False):
    """A reading turned into a temperature and judged. `temp_c` is None exactly when `quality` is BAD."""

    time_s: float
    temp_c: float | None
    quality: Quality
    junction_c: float | None


class ProbeStatus(Struct, frozen=True):
    """Where another probe stands: its name and place, what it reads (°C, None while it says nothing) and since when.

    `expanded_c` is how far its temperature may be off, ± °C (k = 2); None where there is no temperature.
    """

    probe: str
    place: str
    temp_c: float | None
    quality: Quality
    read_s: float | None
    expanded_c: float | None


class Noise(Struct, frozen=True, gc=False):
    """What the readings scatter by, learnt from the heat itself.

    White part and correlated part (flame flicker, taken as first-order autoregressive) are 1-sigma values in °C;
    `flicker_s` is the correlation time, `interval_s` the usual time between readings. `learnt_s` says for how long this
    fire has been listened to, `spread` by what factor means of a minute and more may scatter more than this law says.
    """

    white_c: float
    flicker_c: float
    flicker_s: float
    interval_s: float
    learnt_s: float = math.inf
    spread: float = 1.0


class Bucket(Struct, frozen=True, gc=False):
    """Believed readings of a few seconds: means of time (s), temperature and junction (°C), and how many there were.

    `scatter_c2` is the variance of the temperatures about their mean, °C², `width_s2` that of their times, s², and
    `slant_c_s` what both have in common, °C s; all 0 of a single one.
    """

    time_s: float
    temp_c: float
    junction_c: float | None
    count: int
    scatter_c2: float
    slant_c_s: float = 0.0
    width_s2: float = 0.0


class Trend(Struct, frozen=True, gc=False):
    """Where the last minutes lead, from buckets that stand `spacing_s` apart; None while too few are known.

    `before_c_per_s` is the slope of the two minutes that ended a minute and a half ago. `jump_c` is the rise over two
    buckets and `jump_error_c` its standard deviation by noise alone. `scatter_c2` is the variance of single readings
    about the course within a bucket, averaged over a minute, °C².
    """

    time_s: float
    temp_c: float
    spacing_s: float
    before_c_per_s: float | None
    jump_c: float | None
    jump_error_c: float
    scatter_c2: float


class Ramp(Struct, frozen=True, gc=False):
    """A least-squares slope over the last `span_s` seconds with its standard error, both in °C/s."""

    time_s: float
    c_per_s: float
    standard_error_c_per_s: float
    span_s: float


class Finding(Struct, frozen=True):
    """An alarm's condition is present now: the value that makes it so, its limit, and the fact in words.

    `milder`: the milder of its two actions is enough now.
    """

    value: float | None
    limit: float | None
    unit: str | None
    what: str
    milder: bool = False


class StandingAlarm(Struct, frozen=True):
    """An alarm that is not normal, as a display or a broker shows it: what is so now, and not what was when it rang.

    `text` is one sentence for whoever shows one line, `fact` what was last found of its condition, with `value`,
    `limit` and `unit`; `worst` the worst of it so far in words, empty where that is the present or has no figure.
    `since_s` is when it came into its state, `raised_s` when it rang; `gone_s` since when its condition is not found
    any more (it ends once its off-delay has passed), `ended_s` when it ended. `segment` is where it rang, None outside
    any.

    `action` is what to do about it now, and `order` the same in at most twenty letters; both are empty where it orders
    nothing: it is over, shelved, or its order would contradict that of the alarm `yields_to`. `is_first`: of all orders
    that stand, this is the one to carry out first.
    """

    alarm: str
    state: AlarmState
    priority: Priority
    text: str
    since_s: float
    action: str = ""
    order: str = ""
    is_first: bool = False
    yields_to: str = ""
    fact: str = ""
    value: float | None = None
    limit: float | None = None
    unit: str | None = None
    worst: str = ""
    raised_s: float = 0.0
    gone_s: float | None = None
    ended_s: float | None = None
    segment: str | None = None
    segment_number: int | None = None


class StandingStatement(Struct, frozen=True):
    """What explains the last minutes now: its cause by name, in words, and since when (s) it is so.

    `alarm` is the alarm that says the same, None where it is a message.
    """

    cause: str
    text: str
    since_s: float
    alarm: str | None = None


class WithheldAlarms(Struct, frozen=True):
    """Ramp alarms that are held back since `since_s` (s), why in words, and until when at most."""

    alarms: tuple[str, ...]
    text: str
    since_s: float
    until_s: float


class OpenQuestion(Struct, frozen=True):
    """What the watch has asked and nobody has answered yet: its number in the heat, and the answers that are offered.

    Any other words are an answer too, unless `only_these`: then the answer is an order, and one of them. `is_check`: it
    is a line of the list that is ticked off before the fire is lit.
    """

    number: int
    text: str
    answers: tuple[str, ...]
    asked_s: float
    segment: str | None = None
    only_these: bool = False
    is_check: bool = False


class PotReadiness(Struct, frozen=True):
    """What the pot is ready for at its heat's end: the value, the sentence that says it, and why, gravest first."""

    ready: str
    sentence: str
    reasons: tuple[str, ...]


class WallPeak(Struct, frozen=True):
    """The greatest difference through a crucible's wall at `at_s` (s), in segment number `segment`.

    `through_k` is outer face less inner, K; `strength_share` the tension in the face that was pulled, of what such a
    wall stands by handbook figures; `outer_pull_k` by how much the outer face was colder than the wall's mean, K.
    """

    through_k: float
    at_s: float
    segment: int
    strength_share: float
    outer_pull_k: float


class WallState(Struct, frozen=True):
    """What is reckoned of the wall now, and its greatest differences in the present segment and in the heat so far.

    An estimate: `strength_share` is good to a factor of two.
    """

    through_k: float
    strength_share: float
    in_segment: WallPeak | None
    in_heat: WallPeak | None


class GasState(Struct, frozen=True):
    """What is reckoned of the gas now: in all bottles together (kg), in each its liquid (°C) and pressure (gauge, bar).

    `kw` is what burns now. `short_in_s` (s) is when the pressure will fall below what is needed, with `short_left_kg`
    still in the bottles; None where it lasts as far as it is looked ahead. `end_left_kg` is then what is left when the
    heat needs no more gas, None where nobody can say when that is. `liquid_seen`: its temperature is read by a probe
    on the bottle, not reckoned.
    """

    bottles: int
    left_kg: float
    liquid_c: float
    gauge_bar: float
    needed_bar: float
    kw: float
    short_in_s: float | None = None
    short_left_kg: float | None = None
    end_left_kg: float | None = None
    liquid_seen: bool = False


class GasFigures(Struct, frozen=True):
    """What a heat has taken of its gas: `burned_s` of burning (s) and `used_kg` by the burner's power; what is left.

    `weighed_kg` is what it took by the bottle's weights, None where it was not weighed or was changed meanwhile.
    `short_at_s` is when the reckoned pressure first fell below what is needed, s, None if it never did.
    """

    burned_s: float
    used_kg: float
    left_kg: float
    lowest_bar: float
    changes: int = 0
    weighed_kg: float | None = None
    short_at_s: float | None = None


class WaterState(Struct, frozen=True):
    """What a drying pot has shown of its water: since when it leaves (s), the least pace, from when it had left (s).

    `slowest` is a share of the climb's pace before; `missed`: no recovery was seen, and none will be. The weights, kg,
    are what people told before and after. `gone_g` is the water that has left by the heat balance of pot and oven, g,
    with the range it lies in nine times in ten; None without both probes. `is_dry`: by that balance none leaves any
    more.
    """

    leaving_s: float | None
    slowest: float | None
    left_s: float | None
    before_kg: float | None = None
    after_kg: float | None = None
    missed: bool = False
    gone_g: float | None = None
    gone_range_g: tuple[float, float] | None = None
    is_dry: bool = False


class StandInState(Struct, frozen=True):
    """Which probe stands in for the followed one since `since_s` (s), by its name and place.

    `off_c` is how far the temperature that is guessed by it may be off, and `expanded_c` the same with what the
    followed probe itself may be off by, ± °C (k = 2). `unguarded` are the limits that are not judged meanwhile, in
    words; `earns`: a soak is credited by it.
    """

    probe: str
    place: str
    since_s: float
    off_c: float
    expanded_c: float
    unguarded: tuple[str, ...]
    earns: bool


class HeatStatus(Struct, frozen=True):
    """Where the heat stands: everything a display needs, nothing it would have to work out."""

    time_s: float
    temp_c: float | None
    quality: Quality
    ramp: Ramp | None
    segment: str | None
    segment_number: int
    segment_count: int
    phase: str
    target_c: float | None
    allowed_c_per_s: tuple[float | None, float | None]
    soaked_s: float
    hold_s: float
    to_next_s: float | None
    to_end_s: float | None
    alarms: tuple[StandingAlarm, ...]
    # When the reading behind `temp_c` came: a temperature shown without its age is taken for the present one.
    read_s: float | None = None
    # How much of the soak so far rests on a reading that did not move: it may turn out not to count.
    unconfirmed_s: float = 0.0
    # None until the heat is over: before that nothing is promised.
    readiness: PotReadiness | None = None
    # The one thing that is said of the last minutes, and what is held back because of it; None while there is none.
    statement: StandingStatement | None = None
    withheld: WithheldAlarms | None = None
    # Where the two times lie nine times in ten; then each later segment's length, as far as it can be guessed.
    to_next_range_s: tuple[float, float] | None = None
    to_end_range_s: tuple[float, float] | None = None
    later_s: tuple[float, ...] = ()
    # Too early to tell, which is not the same as never.
    is_settling: bool = False
    # Where the climb will stop short of its end at this flame, °C; None while it may well get there.
    stops_near_c: float | None = None
    # Where the probe hangs, "pot" or "chamber", and so whose temperature this is; empty where nobody has said.
    place: str = ""
    # How many earlier heats of the same furnace and pot the two times are learnt from.
    earlier_heats: int = 0
    # The difference through the wall; None where nobody knows the wall or where the probe hangs, and while it settles.
    wall: WallState | None = None
    # The gas in its bottles; None where burner or bottle are not known.
    gas: GasState | None = None
    # What a registered pot with the probe on it has shown of its water; None while it has shown nothing.
    water: WaterState | None = None
    # The probes beside the one that is followed.
    probes: tuple[ProbeStatus, ...] = ()
    # What stands in for the followed probe, whose temperature `temp_c` then is not; None while it is.
    standing_in: StandInState | None = None
    # What was asked and not answered yet, oldest first, the checklist's lines last.
    questions: tuple[OpenQuestion, ...] = ()
    # Who watches the furnace, as was marked last; empty where nobody has said.
    watched_by: str = ""
