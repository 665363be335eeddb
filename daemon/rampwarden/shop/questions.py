"""What has to be asked of a broker, a few questions at a time: each is one topic whose kept message is wanted.

A broker queues about a thousand messages for one listener and drops the rest without a word, so whoever asks for
everything at once gets a part of it. Here at most `WINDOW` answers are awaited; what does not come is asked again, less
and less often and for ever, and can be named. Times are given; nothing here talks to a broker.
"""

import heapq
from dataclasses import dataclass
from itertools import chain, islice

# A fifth of what a broker with default settings (mosquitto's: 1,000) keeps for a listener: the rest is for live alarms.
WINDOW = 200
# Asking for a single topic costs a packet each way; so many together cost hardly more.
_STEP = 50
# A broker that has an answer sends it at once; whoever has none must not hold up the others. What comes later than this
# is taken all the same, and who is asked again may take longer: there is nobody waiting any more.
_PATIENCE_S = 0.5
_PATIENCE_AGAIN_S = 3.0
# After so many times it is told to people; the broker may have been busy once.
_TOLD_AFTER = 2
_WAITS_S = (1.0, 3.0, 10.0, 30.0, 60.0)


@dataclass(slots=True)
class _Question:
    patient_until_s: float = 0.0
    tried: int = 0


class Questions:
    """Topics to ask for, in which order, and which were asked in vain."""

    def __init__(self) -> None:
        self._open: dict[str, _Question] = {}
        # What is urgent, what is not, and what was asked in vain: in this order.
        self._lanes: tuple[dict[str, None], dict[str, None], dict[str, None]] = ({}, {}, {})
        self._asked: dict[str, None] = {}
        self._again: list[tuple[float, str]] = []
        self._answered: list[str] = []

    def __len__(self) -> int:
        """How many answers are to come: what was asked in vain is another matter."""
        return sum(not question.tried for question in self._open.values())

    @property
    def in_vain(self) -> list[str]:
        """Every topic that was asked for more than once and has not come."""
        return [topic for topic, question in self._open.items() if question.tried >= _TOLD_AFTER]

    def want(self, topic: str, *, urgent: bool = False) -> None:
        """Have a topic asked for, unless it is already."""
        if topic not in self._open:
            self._open[topic] = _Question()
            self._lanes[not urgent][topic] = None

    def settle(self, topic: str) -> None:
        """Note that a topic has come, or is wanted no longer."""
        if self._open.pop(topic, None) is None:
            return
        for lane in self._lanes:
            lane.pop(topic, None)
        if topic in self._asked:
            del self._asked[topic]
            self._answered.append(topic)

    def forget(self) -> None:
        """Forget everything: the connection is gone, and with it what was asked."""
        self._open.clear()
        for topics in (*self._lanes, self._asked):
            topics.clear()
        self._again.clear()
        self._answered.clear()

    def step(self, now_s: float) -> tuple[list[str], list[str]]:
        """Give the topics to ask for now, and those to ask for no longer."""
        done, self._answered = self._answered, []
        done += self._give_up_waiting(now_s)
        while self._again and self._again[0][0] <= now_s:
            _, topic = heapq.heappop(self._again)
            if topic in self._open and topic not in self._asked:
                self._lanes[-1][topic] = None
        room = WINDOW - len(self._asked)
        if room < _STEP:
            return [], done
        asked = list(dict.fromkeys(islice(chain(*self._lanes), room)))
        for topic in asked:
            question = self._open[topic]
            question.patient_until_s = now_s + (_PATIENCE_AGAIN_S if question.tried else _PATIENCE_S)
            for lane in self._lanes:
                lane.pop(topic, None)
            self._asked[topic] = None
        return asked, done

    def _give_up_waiting(self, now_s: float) -> list[str]:
        late = [topic for topic in self._asked if now_s >= self._open[topic].patient_until_s]
        for topic in late:
            del self._asked[topic]
            question = self._open[topic]
            wait_s = _WAITS_S[min(question.tried, len(_WAITS_S) - 1)]
            question.tried += 1
            heapq.heappush(self._again, (now_s + wait_s, topic))
        return late
