"""What other limits would have changed in one heat: alarms that are new, gone, or come at another time."""

from collections.abc import Iterable, Sequence

from msgspec import Struct

# Two alarms of one name that are further apart than this are not taken for the same one, s.
_APART_S = 900.0
# Closer together they came at the same time: the clock of the monitor runs by whole seconds.
_SAME_S = 0.5


class Raised(Struct, frozen=True):
    """An alarm and when it was raised, s."""

    alarm: str
    time_s: float


class Moved(Struct, frozen=True):
    """An alarm that is raised at another time, s."""

    alarm: str
    from_s: float
    to_s: float

    @property
    def earlier_s(self) -> float:
        """How much earlier it comes, s; negative for later."""
        return self.from_s - self.to_s


class HeatAnswer(Struct, frozen=True):
    """One heat's row. `before` and `after` count alarms; `trouble` says in words why there is no answer."""

    heat: str
    started: str = ""
    mark: str = ""
    title: str = ""
    before: int = 0
    after: int = 0
    new: tuple[Raised, ...] = ()
    gone: tuple[Raised, ...] = ()
    earlier: tuple[Moved, ...] = ()
    later: tuple[Moved, ...] = ()
    trouble: str = ""


def compared(
    before: Sequence[Raised], after: Sequence[Raised]
) -> tuple[tuple[Raised, ...], tuple[Raised, ...], tuple[Moved, ...]]:
    """Give what is new, what is gone, and what has moved; alarms of one name are paired in the order they came.

    >>> compared([Raised("a", 10.0)], [Raised("a", 4.0), Raised("b", 9.0)])
    ((Raised(alarm='b', time_s=9.0),), (), (Moved(alarm='a', from_s=10.0, to_s=4.0),))
    """
    new: list[Raised] = []
    gone: list[Raised] = []
    moved: list[Moved] = []
    for alarm in sorted({each.alarm for each in (*before, *after)}):
        old, fresh = _times(before, alarm), _times(after, alarm)
        while old or fresh:
            if old and fresh and abs(old[0] - fresh[0]) <= _APART_S:
                from_s, to_s = old.pop(0), fresh.pop(0)
                if abs(from_s - to_s) > _SAME_S:
                    moved.append(Moved(alarm, from_s, to_s))
            elif not fresh or (old and old[0] < fresh[0]):
                gone.append(Raised(alarm, old.pop(0)))
            else:
                new.append(Raised(alarm, fresh.pop(0)))
    return tuple(new), tuple(gone), tuple(moved)


def _times(raised: Iterable[Raised], alarm: str) -> list[float]:
    return [each.time_s for each in raised if each.alarm == alarm]
