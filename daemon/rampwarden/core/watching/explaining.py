"""Brings what the explanation says before people: as alarms, as messages, and as a reason beside bare facts.

At most one statement stands. Of what a person must act on an alarm is raised, the rest are messages; each says how sure
it is and since when. What proves wrong is withdrawn in words. The facts (a limit broken, a heat that falls) are
alarms of their own whatever is said here; a standing statement only adds its reason to them.
"""

import math
from collections.abc import Callable, Mapping
from types import MappingProxyType

from msgspec.structs import replace

from rampwarden.core.diagnosis import SENSOR_NOISY, SENSOR_STUCK
from rampwarden.core.explanation import FLAME_OUT, HEAT_FAILING, Cause, Context, Ended, Explanation, Saying, Statement
from rampwarden.core.limits import (
    CEILING_FORECAST,
    COOLING_FAST,
    NOT_COOLING,
    NOT_HEATING,
    RAMP_FORECAST,
    RAMP_HIGH,
    RAMP_LOW,
    SOAK_DEVIATION,
    TEMPERATURE_HIGH,
)
from rampwarden.core.model import Finding, StandingStatement, mark_name
from rampwarden.core.schedule import Schedule, SegmentKind
from rampwarden.core.watching.event_list import EventList
from rampwarden.core.watching.statement_words import over_words, told_words, withdrawn_words
from rampwarden.core.watching.withholding import Withholding

_ALARMS: Mapping[Cause, str] = MappingProxyType(
    {
        Cause.FLAME_OUT: FLAME_OUT.name,
        Cause.FADING: HEAT_FAILING.name,
        Cause.SAG: HEAT_FAILING.name,
        Cause.STUCK: SENSOR_STUCK.name,
        Cause.INTERFERENCE: SENSOR_NOISY.name,
    }
)
"""What is raised as an alarm; the rest are messages."""
_SHUTS_S = 300.0
"""s. Nobody holds a lid up for longer, and a minute or two after it was shut the reading has what it had."""
_OF_DEPTH = 0.1
"""Share of a fall that may be missing when the reading has come back: the pot cools a little under an open lid."""

_FALLS = frozenset(
    (
        Cause.FLAME_OUT,
        Cause.FADING,
        Cause.SAG,
        Cause.LID_OR_PROBE,
        Cause.CHARGE,
        Cause.PROBE_MOVED,
        Cause.HEAT_OFF,
        Cause.PLATEAU,
        Cause.CYCLING,
    )
)
_RISES = frozenset((Cause.IN_FLAME, Cause.INTERFERENCE, Cause.LEFT_ON, Cause.CYCLING))
_OUT_OF_PLACE = frozenset((Cause.PROBE_MOVED, Cause.IN_FLAME, Cause.LID_OR_PROBE))
_TURNED_DOWN = frozenset((Cause.FADING, Cause.SAG))
"""What gas and a hand at the valve cannot be told apart by."""
_ASK_FOR_LESS = frozenset((RAMP_HIGH.name, RAMP_FORECAST.name, TEMPERATURE_HIGH.name, CEILING_FORECAST.name))
_OBEYED_S = 600.0
"""s. Who was told to lower the heat does so within this time, in one turn or in several: common practice, no source.
That the heat fails is then no news. What may not fall so far has alarms of its own."""
_LID_S = 90.0
"""s for which a lid is held up as a rule."""
_REASONS: Mapping[str, frozenset[Cause]] = MappingProxyType(
    {
        NOT_HEATING.name: _FALLS,
        RAMP_LOW.name: _FALLS,
        COOLING_FAST.name: _FALLS,
        SOAK_DEVIATION.name: _FALLS | _RISES,
        RAMP_HIGH.name: _RISES,
        RAMP_FORECAST.name: _RISES,
        TEMPERATURE_HIGH.name: _RISES,
        NOT_COOLING.name: _RISES,
    }
)
"""What can be the reason of which fact."""


class Explaining:
    """Explains one heat to people. Public state is for reading only.

    `lid_s` is since when (s) a lid was lifted last, as far as it was said, and `otherwise_s` when something else last
    explained the course; not cold metal, which a slow probe makes of a lid. `stillness_is_odd` tells whether a
    sensor that stands still scattered before: a coarse converter on a quiet oven repeats itself for minutes, and that
    it hangs is not said of it. `scatters` tells whether readings scatter more than they should: pickup swings slowly
    as well, and is no heat that switches on and off. `intermits` tells whether it is said already that the sensor works
    only now and then: what leaps meanwhile is the same trouble of the same wires, and no interference for good.
    """

    def __init__(
        self,
        schedule: Schedule,
        events: EventList,
        withholding: Withholding,
        stillness_is_odd: Callable[[], bool],
        scatters: Callable[[], bool],
        intermits: Callable[[], bool],
    ) -> None:
        self._schedule, self._events, self._withholding = schedule, events, withholding
        self._stillness_is_odd, self._scatters, self._intermits = stillness_is_odd, scatters, intermits
        self._explanation = Explanation()
        self._statement: Statement | None = None
        self._worded: tuple[Statement, str] | None = None
        self._hid: tuple[Cause, float] | None = None
        self._disowned: tuple[Cause, float] | None = None
        # Since when less heat was asked for last.
        self._asked_s = -math.inf
        self._told_text = ""
        self._fed_s = -math.inf
        self.lid_s = self.otherwise_s = self._otherwise_before_s = -math.inf

    @property
    def standing(self) -> StandingStatement | None:
        """The statement as displays show it; None while nothing is said."""
        statement = self._upheld
        if statement is None:
            return None
        return StandingStatement(
            statement.cause.value, self._text(statement), statement.since_s, _ALARMS.get(statement.cause)
        )

    @property
    def findings(self) -> dict[str, Finding]:
        """The alarms' conditions that the standing statement makes present."""
        statement = self._shown
        alarm = None if statement is None else _ALARMS.get(statement.cause)
        if statement is None or alarm is None:
            return {}
        now = statement.figures.now_c_per_s
        slope = None if now is None else round(60.0 * now, 2)
        return {alarm: Finding(slope, None, None if slope is None else "°C/min", self._text(statement))}

    @property
    def says_stuck(self) -> bool:
        """Whether it is said that the sensor stands still, so that its readings tell nothing of the pot.

        What interference spoils the gate has put aside already; readings that scatter are doubted elsewhere.
        """
        statement = self._shown
        return statement is not None and statement.cause is Cause.STUCK

    def left_place_s(self, time_s: float) -> float | None:
        """Give since when it is said at `time_s` (s) that the probe was moved or hangs in the flame; None if it is not.

        That a lid was lifted or the probe moved is no such word before a lid would have been shut again.
        """
        statement = self._upheld
        if statement is None:
            return None
        is_lid = statement.cause is Cause.LID_OR_PROBE and time_s - statement.since_s < _LID_S
        return statement.since_s if statement.cause in _OUT_OF_PLACE and not is_lid else None

    def enter(self, index: int | None, time_s: float) -> None:
        """Segment `index` begins at `time_s` (s); None when the schedule is done, and nothing is explained any more."""
        self._explanation.enter(None if index is None else context_of(self._schedule, index), time_s)
        if index is None:
            self._statement = None

    def resume(self, time_s: float) -> None:
        """Go on at `time_s` (s) after a time nobody watched."""
        self._explanation.resume(time_s)
        self._statement = self._explanation.statement

    def mark(self, time_s: float, text: str) -> None:
        """Take note of a person's mark, however it is written."""
        name = mark_name(text)
        self._explanation.mark(time_s, name)

    def feed(self, time_s: float, temp_c: float, *, held: bool) -> bool:
        """Take a reading (s, °C), believed or held by the gate; tells whether what is said has changed."""
        if time_s <= self._fed_s:
            return False
        self._fed_s = time_s
        saying = self._explanation.feed(time_s, temp_c, held=held)
        statement = self._explanation.statement
        if statement is not None and statement.cause is Cause.INTERFERENCE and self._intermits():
            self._hid = (statement.cause, statement.told_s)
        if saying is not None:
            self._say(saying, time_s)
        if statement is not None:
            if statement.cause is Cause.LID_OR_PROBE:
                self.lid_s = statement.since_s
            elif statement.cause is not Cause.CHARGE:
                self.otherwise_s = time_s
        if saying is None and statement is self._statement:
            return False
        self._statement = statement
        return True

    def answer(self, alarm: str, text: str, *, wrong: bool) -> None:
        """A person says that `alarm`, or the message `text`, was wrong, or right after all: it is shown no more.

        Nor is it a reason for anything. To the desk the alarm's condition is found as before, so that it knows when it
        has been gone once; and what the readings are worth is not a matter of words.
        """
        statement = self._statement
        if statement is None or (_ALARMS.get(statement.cause) != alarm if alarm else text != self._told_text):
            return
        self._disowned = (statement.cause, statement.told_s) if wrong else None
        if wrong:
            self._withholding.expect_no_more()

    def vouches_for_pot(self, time_s: float) -> bool:
        """Whether the course up to `time_s` (s) shows the pot itself climbing within its limit."""
        return self._explanation.withholds_ramp(time_s)

    def add_reason(self, found: dict[str, Finding]) -> None:
        """Add the standing statement to the facts that it explains, and remember which of them want less heat."""
        if any(_wants_less_heat(name, finding) for name, finding in found.items()):
            self._asked_s = self._fed_s
        statement = self._upheld
        if statement is None:
            return
        for name, finding in found.items():
            if statement.cause in _REASONS.get(name, ()):
                what = f"{finding.what}; {self._text(statement)}"
                found[name] = replace(finding, what=what)

    def _say(self, saying: Saying, time_s: float) -> None:
        ended, told = saying.withdrawn, saying.told
        if ended is not None and (ended.cause, ended.told_s) not in (self._hid, self._disowned):
            wrong = saying.why is Ended.WRONG
            # What another takes the place of is not over: it is known better now.
            text = withdrawn_words(ended) if wrong else over_words(ended, time_s) if told is None else ""
            if wrong:
                # What it kept from being read off the course may be read off it after all.
                self.otherwise_s = self._otherwise_before_s
            if text:
                self._events.observe(text)
        if told is None:
            return
        self._expect(told, time_s)
        self._otherwise_before_s = self.otherwise_s
        self._told_text = ""
        # A fading that was asked for is none to be told.
        obeyed = told.cause in _TURNED_DOWN and self._asked_s >= told.since_s - _OBEYED_S
        if obeyed or self._is_hidden(told):
            self._hid = (told.cause, told.told_s)
        elif told.cause not in _ALARMS:
            self._told_text = told_words(told)
            self._events.observe(self._told_text)

    def _expect(self, told: Statement, time_s: float) -> None:
        """Let the probe come back to what it showed before a lid was lifted; of anything else it may never."""
        temp_c, change_c = told.figures.temp_c, told.figures.change_c
        if told.cause is Cause.LID_OR_PROBE and temp_c is not None and change_c is not None:
            self._withholding.expect(temp_c - (1.0 - _OF_DEPTH) * change_c, time_s + _SHUTS_S)
        else:
            self._withholding.expect_no_more()

    @property
    def _upheld(self) -> Statement | None:
        """What is shown, and that nobody has said to be wrong."""
        statement = self._shown
        return None if statement is None or (statement.cause, statement.told_s) == self._disowned else statement

    @property
    def _shown(self) -> Statement | None:
        statement = self._statement
        return None if statement is None or self._is_hidden(statement) else statement

    def _is_hidden(self, statement: Statement) -> bool:
        match statement.cause:
            case Cause.ARRIVAL:
                return True
            case Cause.STUCK:
                return not self._stillness_is_odd()
            case Cause.CYCLING:
                return self._scatters()
            case Cause.FADING | Cause.SAG | Cause.INTERFERENCE:
                return self._hid == (statement.cause, statement.told_s)
            case _:
                return False

    def _text(self, statement: Statement) -> str:
        """Word a statement, once for as long as it does not change."""
        if self._worded is None or self._worded[0] is not statement:
            self._worded = (statement, told_words(statement))
        return self._worded[1]


def _wants_less_heat(name: str, finding: Finding) -> bool:
    """Tell whether who acts on a finding takes heat away; of a soak's band it is the upper edge that asks for that."""
    if name == SOAK_DEVIATION.name:
        return finding.value is not None and finding.limit is not None and finding.value > finding.limit
    return name in _ASK_FOR_LESS


def context_of(schedule: Schedule, index: int) -> Context:
    """Give what segment `index` asks for."""
    segment = schedule.segments[index]
    soak = segment.kind is SegmentKind.SOAK
    return Context(
        kind=segment.kind,
        target_c=schedule.end_of_ramp_c(index) if segment.kind is SegmentKind.RAMP else segment.target_c,
        lowest_c=segment.lowest_c if soak else None,
        highest_c=segment.highest_c if soak else None,
        limit=min(schedule.limits_in_force(index), key=lambda rate: rate.c_per_s, default=None),
        after_transfer=index > 0 and schedule.segments[index - 1].kind is SegmentKind.TRANSFER,
    )
