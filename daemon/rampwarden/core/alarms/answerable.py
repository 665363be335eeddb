"""What the watch has said and a person may answer with "that was wrong": alarms raised, and messages.

Keeps who said what when, and whether it was taken back. Which alarm rests for it is the desk's business.
"""

from collections import deque
from dataclasses import dataclass

from rampwarden.errors import AlarmTransitionError

# Nobody answers what was said so many statements ago.
_MOST = 200


@dataclass(slots=True)
class Answerable:
    """An alarm raised at `time_s` (s), or with no `alarm` a message; `is_account`: of the soak's credit."""

    time_s: float
    alarm: str
    text: str
    is_account: bool = False
    withdrawn: bool = False


class AnswerBook:
    """The statements of one heat, the newest last."""

    def __init__(self) -> None:
        self._said: deque[Answerable] = deque(maxlen=_MOST)
        self._answered: deque[Answerable] = deque(maxlen=_MOST)

    def note_alarm(self, time_s: float, alarm: str) -> None:
        """Take note that an alarm was raised."""
        self._said.append(Answerable(time_s, alarm, ""))

    def note_message(self, time_s: float, text: str, *, is_account: bool = False) -> None:
        """Take note of a message."""
        self._said.append(Answerable(time_s, "", text, is_account))

    def said_of(self, alarm: str) -> float | None:
        """Give when an alarm was last raised, s; None if it never was."""
        return next((each.time_s for each in reversed(self._said) if each.alarm == alarm), None)

    def to_withdraw(self, alarm: str, text: str) -> Answerable:
        """Find what is said to be wrong: of `alarm`, else the message that begins with `text`, else the newest.

        Raises `AlarmTransitionError` where nothing of it was said, or that was answered already: to say it twice must
        not take back the one before.
        """
        said = next((each for each in reversed(self._said) if _is_meant(each, alarm, text)), None)
        if said is None:
            raise AlarmTransitionError("nothing of it has been said")
        if said.withdrawn:
            raise AlarmTransitionError(f"it is withdrawn already: {said.alarm or said.text}")
        return said

    def to_uphold(self, alarm: str, text: str) -> Answerable:
        """Find what was said to be wrong last, chosen as in `to_withdraw`.

        Raises `AlarmTransitionError` where nothing of it was.
        """
        answered = (each for each in reversed(self._answered) if each.withdrawn and _is_meant(each, alarm, text))
        said = next(answered, None)
        if said is None:
            raise AlarmTransitionError("nothing of it was said to be wrong")
        return said

    def withdraw(self, said: Answerable) -> None:
        """Mark a statement as taken back."""
        said.withdrawn = True
        self._answered.append(said)

    def uphold(self, said: Answerable) -> None:
        """Mark a statement as standing after all."""
        said.withdrawn = False


def _is_meant(said: Answerable, alarm: str, text: str) -> bool:
    if alarm:
        return said.alarm == alarm
    # Who sends a text may have folded its spaces.
    return not text or (not said.alarm and " ".join(said.text.split()).startswith(" ".join(text.split())))
