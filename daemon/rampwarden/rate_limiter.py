"""How often something may be done: so many times within so many seconds, whoever does it. Knows no clock."""

from collections import deque


class RateLimiter:
    """At most `most` times within any `within_s` seconds."""

    def __init__(self, most: int, within_s: float) -> None:
        self.most = most
        self.within_s = within_s
        self._done_s: deque[float] = deque(maxlen=most)

    def wait_s(self, now_s: float) -> float:
        """Give how long to wait until it may be done again, seconds; 0 when it may be done now."""
        if len(self._done_s) < self.most:
            return 0.0
        return max(0.0, self._done_s[0] + self.within_s - now_s)

    def note(self, now_s: float) -> None:
        """Take note that it was done."""
        self._done_s.append(now_s)
