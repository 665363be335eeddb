"""The room's one door: readings in, at most one standing statement out. Composes; judges nothing itself."""

from rampwarden.core.explanation.statements import Context, Saying, Statement


class Explanation:
    """Explains the last minutes of one heat."""

    def __init__(self) -> None:
        self.statement: Statement | None = None
        """What is said now; at most one thing."""

    def enter(self, context: Context | None, time_s: float) -> None:
        """Take note that a segment begins at `time_s`; None when the heat is over."""

    def resume(self, time_s: float) -> None:
        """Go on after a time that nobody watched: no course is drawn across it."""

    def mark(self, time_s: float, name: str) -> None:
        """Take note of a person's mark (`lid-open`, `charged` …): what is known need not be said."""

    def feed(self, time_s: float, temp_c: float, *, held: bool = False) -> Saying | None:
        """Take a reading (s, °C), believed or `held` by the outlier gate; gives what changes in what is said."""
        return None

    def withholds_ramp(self, time_s: float) -> bool:
        """Whether the fit says that the pot itself climbs within its limit though the reading does not: ≤ 90 s."""
        return False
