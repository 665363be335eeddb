"""What a watch is told besides readings: a person's commands, and news of the board, its line and our own outputs.

A command that cannot be carried out raises nothing outside: it is answered with an event.
"""

from rampwarden.core.diagnosis import Diagnosis
from rampwarden.core.limits import NoiseMeter
from rampwarden.core.model import Command, CommandName, EventName, Notice, NoticeName
from rampwarden.core.monitor_alarms import (
    BOARD_RESTARTED,
    BROKER_UNREACHABLE,
    OUTPUT_FAILING,
    RECORD_FAILING,
    START_WARNING,
)
from rampwarden.core.pot_keeper import PotKeeper
from rampwarden.core.usual_marks import WATCHED_BY, maybe_usual, usual_name
from rampwarden.core.watching.alarm_reports import AlarmReports, told
from rampwarden.core.watching.event_list import EventList
from rampwarden.core.watching.explaining import Explaining
from rampwarden.core.watching.pot_physics import PotPhysics
from rampwarden.core.watching.questions import AskedQuestions
from rampwarden.core.watching.schedule_passage import SchedulePassage
from rampwarden.core.watching.silence import SilenceWatch
from rampwarden.core.weight_marks import refuse_ambiguous
from rampwarden.errors import AlarmTransitionError, AmbiguousNumberError, HeatTransitionError

_RECORD_ALARMS = (RECORD_FAILING.name,)
_BROKER_ALARMS = (BROKER_UNREACHABLE.name,)


class Orders:
    """Carries out commands and heeds notices. `watched_by` is who watches the furnace, as was marked last."""

    def __init__(
        self,
        events: EventList,
        alarms: AlarmReports,
        passage: SchedulePassage,
        silence: SilenceWatch,
        explaining: Explaining,
        diagnosis: Diagnosis,
        noise: NoiseMeter,
        pot: PotKeeper,
        physics: PotPhysics,
        questions: AskedQuestions,
    ) -> None:
        self._events, self._alarms, self._passage, self._silence = events, alarms, passage, silence
        self._explaining, self._diagnosis, self._noise, self._pot = explaining, diagnosis, noise, pot
        self._physics, self._questions = physics, questions
        self.watched_by = ""

    def obey(self, command: Command) -> None:
        """Carry out a command, or say why not."""
        try:
            self._carry_out(command)
        except (AlarmTransitionError, AmbiguousNumberError, HeatTransitionError) as error:
            what = f"{command.command} {command.alarm}".strip()
            self._events.say(EventName.REFUSED, f"{what}: {error}")

    def heed(self, notice: Notice) -> None:
        """Take news of the board, its line or an output."""
        match notice.notice:
            case NoticeName.BOARD_RESTARTED:
                self._alarms.judge_passing(BOARD_RESTARTED.name, notice, "the board started again")
            case NoticeName.PORT_LOST:
                self._silence.port_trouble = notice.text
            case NoticeName.PORT_OPENED:
                self._silence.port_trouble = ""
            case NoticeName.RECORD_FAILING:
                finding = told(notice, "the record cannot be written")
                self._alarms.judge(_RECORD_ALARMS, {RECORD_FAILING.name: finding})
            case NoticeName.RECORD_WRITTEN:
                self._alarms.judge(_RECORD_ALARMS, {})
            case NoticeName.WATCH_RESUMED:
                self._noise.restart()
                self._diagnosis.resume()
                self._explaining.resume(self._events.now_s)
                self._passage.resume()
                self._physics.resume()
            case NoticeName.BROKER_LOST:
                finding = told(notice, "the broker cannot be reached")
                self._alarms.judge(_BROKER_ALARMS, {BROKER_UNREACHABLE.name: finding})
            case NoticeName.BROKER_REACHED:
                self._alarms.judge(_BROKER_ALARMS, {})
            case NoticeName.OUTPUT_FAILING:
                self._alarms.judge_passing(OUTPUT_FAILING.name, notice, "an output died and was started again")
            case NoticeName.START_WARNING:
                finding = told(notice, "something speaks against this heat")
                self._alarms.judge((START_WARNING.name,), {START_WARNING.name: finding})
            case NoticeName.GARBLED | NoticeName.FRAMES_LOST:
                # Counted in the record and the log; alone they are no reason to act while readings come.
                pass

    def _carry_out(self, command: Command) -> None:
        name = command.alarm
        if name and not self._alarms.knows(name):
            raise AlarmTransitionError(f"there is no alarm {name!r}")
        match command.command:
            case CommandName.NOTE | CommandName.MARK | CommandName.ANSWER:
                self._take_words(command)
            case CommandName.ACKNOWLEDGE:
                self._alarms.acknowledge(name)
            case CommandName.SHELVE:
                if not name or not 1 <= command.minutes <= 24 * 60:
                    raise AlarmTransitionError("shelving needs an alarm and between 1 minute and 24 hours")
                self._alarms.shelve(name, command.minutes)
            case CommandName.UNSHELVE:
                if not name:
                    raise AlarmTransitionError("unshelving needs an alarm")
                self._alarms.unshelve(name)
            case CommandName.SKIP_SEGMENT:
                self._passage.skip()
            case CommandName.END_HEAT:
                self._passage.finish()
                self._events.say(EventName.HEAT_ENDED, command.text or "ended by hand")
            case CommandName.WRONG:
                self._take_back(name, command.text)
            case CommandName.UNDO_WRONG:
                self._uphold(name, command.text)

    def _take_words(self, command: Command) -> None:
        """Take what a person tells of the furnace."""
        if command.command is CommandName.NOTE:
            self._events.say_here(EventName.NOTE, command.text)
        elif command.command is CommandName.MARK:
            self._mark(command.text)
        else:
            self._answer(command.question, command.text)

    def _take_back(self, alarm: str, text: str) -> None:
        """Withdraw what a person says to be wrong."""
        said = self._events.answers.to_withdraw(alarm, text)
        self._explaining.answer(said.alarm, said.text, wrong=True)
        if said.alarm:
            self._alarms.say_wrong(said.alarm)
        else:
            # What a soak is credited is worked out from readings: a word changes nothing of it.
            what = (
                "said to be wrong, but the soak clock goes by readings"
                if said.is_account
                else "said to be wrong, withdrawn"
            )
            self._events.say_here(EventName.OBSERVED, f"{what}: {said.text}", withdraws=said.time_s)
        self._events.answers.withdraw(said)

    def _uphold(self, alarm: str, text: str) -> None:
        """Take such a word back."""
        said = self._events.answers.to_uphold(alarm, text)
        self._explaining.answer(said.alarm, said.text, wrong=False)
        if said.alarm:
            self._alarms.uphold(said.alarm)
        else:
            self._events.say_here(EventName.OBSERVED, f"stands after all: {said.text}", upholds=said.time_s)
        self._events.answers.uphold(said)

    def _answer(self, question: int, text: str) -> None:
        """Take an answer; one that is a usual mark is taken as that too."""
        given = self._questions.answer(question, text)
        if maybe_usual(given) is not None:
            self._mark(given)

    def _mark(self, what: str) -> None:
        now_s = self._events.now_s
        refuse_ambiguous(what)
        self._events.say_here(EventName.MARK, what)
        self._explaining.mark(now_s, what)
        self._pot.mark(now_s, usual_name(what))
        self._physics.mark(what)
        self._passage.mark(what)
        usual = maybe_usual(what)
        if usual is not None and usual[0].name == WATCHED_BY:
            self.watched_by = usual[1]
