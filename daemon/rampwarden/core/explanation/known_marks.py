"""What a person has marked explains a change for a while: what is known need not be said."""

import math

from rampwarden.core.usual_marks import BURNER, usual_name

_EXPLAINS_S = {
    "lid-open": 120.0,
    "lid-closed": 120.0,
    "charged": 180.0,
    "bottle-changed": 180.0,
    "flame-out": 600.0,
    "transfer": 120.0,
    "arrived": 120.0,
    # Who says that the burner was turned need not be told so.
    BURNER: 180.0,
}
"""Marks that explain a change, and for how long, s: common practice, no source."""


class KnownMarks:
    """Remembers when the last explaining mark was set, `marked_s`, and for how long marks explain."""

    def __init__(self) -> None:
        self.marked_s = self._until_s = -math.inf

    def take(self, time_s: float, text: str) -> None:
        """Take a mark, however it is written."""
        lasts_s = _EXPLAINS_S.get(usual_name(text))
        if lasts_s is not None:
            self.marked_s = time_s
            self._until_s = max(self._until_s, time_s + lasts_s)

    def explain(self, time_s: float) -> bool:
        """Whether a mark still explains what happens at `time_s`."""
        return time_s < self._until_s
