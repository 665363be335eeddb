"""Whether an alarm sent now would be heard by anybody, judged from what has become of the last messages.

Three things make it doubtful: no link or no answer, a broker that refuses, and a broker with nobody subscribed. An
answer only ever says that the broker has the message; that is no operator's acknowledgement and is never taken for one.

The bell is needed at the first doubt; the alarm broker-unreachable waits a little, so that a link that comes back by
itself stays a trifle. Time is given.
"""

from dataclasses import dataclass

# A cut cable shows first as silence. One second until the next value goes out, one until somebody looks: with this it
# is known within the 10 s somebody at the furnace may be left unaware.
SILENCE_S = 7.0
# An alarm that is on its way this long is not waited for: the bell rings.
_ALARM_ON_ITS_WAY_S = 3.0


@dataclass(frozen=True, slots=True)
class ReachState:
    """`bell`: nobody may be reached, ring here. `lost`: for so long that it is an alarm, in words; empty: it is not."""

    bell: bool
    lost: str = ""


class Reachability:
    """Keeps what is known of one broker's reach; `where` names it for people."""

    def __init__(self, now_s: float) -> None:
        self._down_since_s: float | None = now_s
        self._why_down = "not connected yet"
        self._held: str = ""
        self._refused: dict[str, str] = {}
        self.unheard = False

    def link_up(self) -> None:
        """Note that a broker has accepted us; what an earlier one refused is void."""
        self._down_since_s = None
        self._held = ""
        self._refused.clear()

    def link_down(self, why: str, now_s: float) -> None:
        """Note that there is no link, since when and why; the latest reason is the one worth reading."""
        self._why_down = why
        if self._down_since_s is None:
            self._down_since_s = now_s

    def hold(self, why: str) -> None:
        """Note that we stay away on purpose: no need to wait until that is an alarm."""
        self._held = why

    def accepted(self, topic: str) -> None:
        """Note that the broker took a message on `topic`."""
        self._refused.pop(topic, None)

    def refused(self, topic: str, words: str, *, alarms: bool) -> bool:
        """Note that the broker will not take messages on `topic`; gives whether that is new.

        Only what people learn of alarms from (`alarms`) bears on the reach; an answer somewhere else does not.
        """
        known = topic in self._refused
        if alarms:
            self._refused[topic] = words
        return not known

    def alarm_answered(self, *, heard: bool, about_reach: bool) -> None:
        """Note whether anybody was subscribed to an alarm.

        News of broker-unreachable itself (`about_reach`) may prove that somebody listens, but not that nobody does:
        else its own unheard message would raise it again for ever.
        """
        if heard:
            self.unheard = False
        elif not about_reach:
            self.unheard = True

    def judge(self, now_s: float, unanswered_s: float | None, alarm_waiting_s: float | None, where: str) -> ReachState:
        """Judge, given since when the oldest message and the oldest alarm have waited for an answer."""
        if self._held:
            return ReachState(bell=True, lost=self._held)
        if self._down_since_s is not None:
            down_s = now_s - self._down_since_s
            lost = f"no link to {where} for {down_s:.0f} s: {self._why_down}" if down_s >= SILENCE_S else ""
            return ReachState(bell=True, lost=lost)
        if unanswered_s is not None and now_s - unanswered_s >= SILENCE_S:
            return ReachState(bell=True, lost=f"{where} has not answered for {now_s - unanswered_s:.0f} s")
        if self._refused:
            topic, words = next(iter(self._refused.items()))
            return ReachState(bell=True, lost=f"{where} refuses {topic}: {words}")
        if self.unheard:
            return ReachState(bell=True, lost=f"nobody has subscribed to this furnace's alarms at {where}")
        return ReachState(bell=alarm_waiting_s is not None and now_s - alarm_waiting_s >= _ALARM_ON_ITS_WAY_S)
