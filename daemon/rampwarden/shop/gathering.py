"""How a listener gathers a whole shop from a broker that would drop half of it if it were asked for all at once.

Three ways, each mending what the others may miss. **Live**: states, events and lists of alarms of everybody, always. An
event is said once and rings by itself. A furnace at work tells its list every 10 s, so whoever lives is found within
that time, however little the broker queues.
**The roll call**: every kept state at once, at QoS 0, where a broker sends as fast as the line takes it instead of
queueing; soon again at first, then every minute, for whoever did not fit and for a word that was dropped.
**Questions**: what is still missing of a single furnace, a few at a time (`questions.py`), lists of alarms before
descriptions. Values are had of those furnaces alone that are looked at.
"""

from collections.abc import Sequence

from rampwarden.outputs.mqtt import ALARM_EVENT, HEAT_EVENT, Hearing, Link
from rampwarden.shop.furnaces import (
    DESCRIPTION,
    MOST_DEVICES,
    STANDING,
    STATE,
    VALUES,
    Furnace,
    Shop,
)
from rampwarden.shop.questions import Questions

# Twenty messages at QoS 1 are on their way to a listener at a time, and a thousand wait. That is for what is said once.
_SAID_ONCE = (ALARM_EVENT, HEAT_EVENT)
_ROLL_CALLS_S = (0.0, 5.0, 15.0)
_ROLL_CALL_EVERY_S = 60.0
# A roll call of thousands takes a second or two; then states are asked for as safely as alarms again.
_ROLL_CALL_TAKES_S = 3.0
_MOST_NAMED = 3


class Gathering:
    """What to ask for on one listener's connections; `everybody` is a filter such as ``homie/5/+``."""

    def __init__(self, shop: Shop, everybody: str) -> None:
        self._shop = shop
        self._everybody = everybody
        self._questions = Questions()
        self._shown: dict[str, Furnace] = {}
        self._began_s = 0.0
        self._calls = 0
        self._next_call_s = 0.0
        self._call_ends_s: float | None = None
        self._essential = Hearing()
        self._dropped = 0
        self.refused = ""

    @property
    def asked(self) -> int:
        """How many answers are still to come."""
        return len(self._questions)

    @property
    def is_deaf(self) -> bool:
        """Whether the broker refuses what nothing is heard without."""
        return self._essential.is_deaf

    def begin(self, link: Link, now_s: float) -> None:
        """Begin on a new connection, on which nothing has been asked yet."""
        self._questions.forget()
        self._shown.clear()
        self._began_s, self._calls, self._next_call_s, self._call_ends_s = now_s, 0, now_s, None
        self._essential.begin()
        self._dropped = 0
        self.refused = ""
        self._essential.ask(link, [f"{self._everybody}/{path}" for path in _SAID_ONCE], now_s, kept=False)
        self._essential.ask(link, [f"{self._everybody}/{STANDING}"], now_s, qos=0, kept=False)
        self._shop.hear_anew(now_s)
        for device in self._shop.devices:
            self.want(device)
        self.step(link, now_s)

    def step(self, link: Link, now_s: float) -> None:
        """Ask for what is due."""
        if now_s >= self._next_call_s:
            self._call_roll(link, now_s)
        if self._call_ends_s is not None and now_s >= self._call_ends_s:
            self._call_ends_s = None
            self._essential.ask(link, [self._states], now_s, kept=False)
        self._essential.step(link, now_s)
        ask, leave = self._questions.step(now_s)
        link.unsubscribe(leave)
        link.subscribe(ask, qos=0)

    def want(self, device: Furnace) -> None:
        """Have everything asked for that is missing of a device."""
        lacks = device.lacks
        for path in (STATE, STANDING, DESCRIPTION):
            topic = f"{device.base}/{path}"
            if path in lacks:
                self._questions.want(topic, urgent=path != DESCRIPTION)
            else:
                self._questions.settle(topic)

    def came(self, topic: str) -> None:
        """Note that something came on a topic."""
        self._questions.settle(topic)

    def forget(self, device: Furnace) -> None:
        """Ask no more about a device that has been removed."""
        for path in (STATE, STANDING, DESCRIPTION):
            self._questions.settle(f"{device.base}/{path}")

    def show(self, link: Link, furnaces: Sequence[Furnace]) -> bool:
        """Have the values of these furnaces and of no others; gives whether that is any change."""
        wanted = {furnace.base: furnace for furnace in furnaces}
        leave = [furnace for base, furnace in self._shown.items() if base not in wanted]
        come = [furnace for base, furnace in wanted.items() if base not in self._shown]
        for furnace in leave:
            furnace.is_shown = False
            furnace.values.clear()
            furnace.temp_s = None
        for furnace in come:
            furnace.is_shown = True
        link.unsubscribe([f"{furnace.base}/{path}" for furnace in leave for path in VALUES])
        link.subscribe([f"{furnace.base}/{path}" for furnace in come for path in VALUES], qos=0)
        self._shown = wanted
        return bool(leave or come)

    def grant(self, number: int) -> bool:
        """Note that a subscription was granted; gives whether everybody is heard again by that."""
        return self._essential.granted(number)

    def refuse(self, number: int, words: str, now_s: float) -> bool:
        """Note that a subscription was refused; gives whether it is one that nothing is heard without."""
        if self._essential.refused(number, now_s):
            return True
        self.refused = words
        return False

    def note_dropped(self, dropped: int, now_s: float) -> None:
        """Note how many messages of this connection came too fast; what they said is asked for again."""
        if dropped > self._dropped:
            self._next_call_s = min(self._next_call_s, now_s + _ROLL_CALL_TAKES_S)
        self._dropped = dropped

    def lacking(self) -> list[str]:
        """Say what is missing, a sentence each; nothing where nothing is."""
        in_vain = set(self._questions.in_vain)
        lacking = [
            (device, path)
            for device in (self._shop.devices if in_vain else ())
            for path in device.lacks
            if f"{device.base}/{path}" in in_vain and not (path == DESCRIPTION and device.described)
        ]

        def devices(path: str, *, furnaces: bool) -> list[str]:
            return sorted(device.device for device, of in lacking if of == path and device.is_furnace is furnaces)

        unreadable = sorted(device.device for device in self._shop.devices if device.unreadable)
        sentences = [
            _of(devices(DESCRIPTION, furnaces=True), "no description has come from {}; alarms ring all the same"),
            _of(devices(STANDING, furnaces=True), "no list of alarms has come from {}"),
            _of(devices(STATE, furnaces=True), "no state has come from {}"),
            _of(devices(DESCRIPTION, furnaces=False), "only a state has come from {}: nobody knows what that is"),
            _of(unreadable, "what {} says of itself cannot be read"),
        ]
        if self._shop.passed_over:
            sentences.append(f"there are more than {MOST_DEVICES:,} devices: the others are not heard")
        if self._dropped:
            sentences.append(
                f"{self._dropped:,} messages came faster than they could be read: states are asked for again"
            )
        if self.refused:
            sentences.append(f"the broker refuses to be asked for single furnaces: {self.refused}")
        return [sentence for sentence in sentences if sentence]

    @property
    def _states(self) -> str:
        return f"{self._everybody}/{STATE}"

    def _call_roll(self, link: Link, now_s: float) -> None:
        self._calls += 1
        later_s = _ROLL_CALLS_S[self._calls] if self._calls < len(_ROLL_CALLS_S) else None
        self._next_call_s = now_s + _ROLL_CALL_EVERY_S if later_s is None else self._began_s + later_s
        self._essential.ask(link, [self._states], now_s, qos=0)
        # The older MQTT sends everything kept at each subscription; there states stay at QoS 0.
        self._call_ends_s = None if link.old_version else now_s + _ROLL_CALL_TAKES_S


def _of(devices: Sequence[str], sentence: str) -> str:
    if not devices:
        return ""
    more = f" and {len(devices) - _MOST_NAMED:,} more" if len(devices) > _MOST_NAMED else ""
    return sentence.format(", ".join(devices[:_MOST_NAMED]) + more)
