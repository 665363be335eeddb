"""How the heat's picture is told to a browser: everything at first, then each time only what has changed.

A message is one server-sent event with one line of JSON. `whole` has every part of the picture; `change` has the parts
that are not what they were, the course from the last point told and the happenings since; `still` says that nothing is
new. Each says in `silent_s` for how many real seconds the watch has not shown itself, and in `told_s` when it was told
by this computer's steady clock: so a page knows a frozen temperature, or one held up on its way, from a present one.
`fahrenheit` has each sentence of the watch's that has figures in °C beside the same in °F: there is one place that
turns them, and it is not the browser.

Encodes; keeps the last picture told, and sends nothing.
"""

import time
from collections.abc import Callable, Sequence

import msgspec
from msgspec.structs import replace

from rampwarden.core.model import PEOPLES_WORDS
from rampwarden.outputs.in_fahrenheit import in_fahrenheit
from rampwarden.picture import BesideCourse, Happening, Picture

# Told as they are when they are not what they were. What is left out is told otherwise, or means nothing to a browser.
_PARTS = (
    "status",
    "doing",
    "kept",
    "next_in",
    "done_in",
    "stops",
    "learnt",
    "watched",
    "physics",
    "present",
    "coming",
    "low_c",
    "high_c",
    "alarms",
    "health",
    "ahead",
    "withdrawn",
    "unfiled",
    "pace",
    "paused",
    "over",
)


class PictureTeller:
    """Tells the picture that `look` gives."""

    def __init__(self, look: Callable[[], Picture], clock: Callable[[], float] = time.monotonic) -> None:
        self._look = look
        self._clock = clock
        self._told: Picture | None = None
        self._whole = b""
        self._is_whole_of = -1

    def silent_s(self) -> float:
        """Give for how long the watch has not shown itself, real seconds."""
        return max(0.0, self._clock() - self._look().shown_at_s)

    def whole(self) -> bytes:
        """Give everything, as of the last `change`."""
        picture = self._told or self._look()
        self._told = picture
        if self._is_whole_of != picture.number:
            parts = {part: _part(picture, part) for part in _PARTS}
            parts |= {"about": picture.about, "course": picture.course, "happenings": picture.happenings}
            parts["beside"] = picture.beside
            self._whole = _encoded(parts)
            self._is_whole_of = picture.number
        return self._message(b"whole", self._whole)

    def change(self) -> bytes | None:
        """Look at the picture and give what has changed since the last look; None when nothing has."""
        picture, told = self._look(), self._told
        if told is not None and picture.number == told.number:
            return None
        self._told = picture
        if told is None or _has_begun_again(picture, told):
            return self.whole()
        parts = {part: _part(picture, part) for part in _PARTS if getattr(picture, part) != getattr(told, part)}
        last_s = told.course[-1].time_s if told.course else float("-inf")
        if course := [point for point in picture.course if point.time_s > last_s]:
            parts["course"] = course
        if happenings := _happened_since(picture.happenings, told.happenings):
            parts["happenings"] = happenings
        if beside := _new_beside(picture.beside, told.beside):
            parts["beside"] = beside
        return self._message(b"change", _encoded(parts))

    def still(self) -> bytes:
        """Give the message that there is nothing new, and for how long."""
        return self._message(b"still", b'"picture":null')

    def _message(self, name: bytes, body: bytes) -> bytes:
        head = b'"told_s":%.3f,"silent_s":%.1f' % (self._clock(), self.silent_s())
        return b"event: %s\ndata: {%s,%s}\n\n" % (name, head, body)


def _encoded(parts: dict[str, object]) -> bytes:
    """Give the parts of a picture, and beside them what of their sentences reads otherwise in °F."""
    turned: dict[str, str] = {}
    for name, part in parts.items():
        if name not in ("course", "beside", "ahead", "health"):
            _turn(msgspec.to_builtins(part), turned)
    picture = msgspec.json.encode(parts)
    return b'"fahrenheit":%s,"picture":%s' % (msgspec.json.encode(turned), picture)


def _turn(part: object, turned: dict[str, str]) -> None:
    """Gather every sentence in a part with how it reads in °F, where that is otherwise."""
    if isinstance(part, str):
        if (words := in_fahrenheit(part)) != part:
            turned[part] = words
    elif isinstance(part, dict):
        if part.get("event") not in PEOPLES_WORDS:
            for each in part.values():
                _turn(each, turned)
    elif isinstance(part, list | tuple):
        for each in part:
            _turn(each, turned)


def _new_beside(now: Sequence[BesideCourse], told: Sequence[BesideCourse]) -> list[BesideCourse]:
    """Give the courses of the other probes from the last point told."""
    last_s = {each.probe: each.points[-1].time_s for each in told if each.points}
    new = []
    for each in now:
        points = tuple(point for point in each.points if point.time_s > last_s.get(each.probe, float("-inf")))
        if points:
            new.append(replace(each, points=points))
    return new


def _part(picture: Picture, part: str) -> object:
    if part == "status":
        # Alarms are told with what to do about them, once.
        return replace(picture.status, alarms=())
    return getattr(picture, part)


def _has_begun_again(picture: Picture, told: Picture) -> bool:
    """Tell whether the heat went back, as a replay may: nothing told before holds."""
    return picture.about is not told.about or picture.status.time_s < told.status.time_s


def _happened_since(happenings: Sequence[Happening], told: Sequence[Happening]) -> Sequence[Happening]:
    if not told:
        return happenings
    for index in range(len(happenings) - 1, -1, -1):
        if happenings[index] is told[-1]:
            return happenings[index + 1 :]
    return happenings
