"""Figures of a watch for whoever gathers figures: `/metrics` in the OpenMetrics text form, by prometheus-client.

Made anew for each that asks, from the picture that every display draws from; nothing is counted twice and the watch
notices nothing. What a disk that hangs does not say within a second is left out. Off unless it is asked for.
"""

import asyncio
import contextlib
import shutil
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from prometheus_client import CollectorRegistry
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, InfoMetricFamily, Metric
from prometheus_client.openmetrics.exposition import CONTENT_TYPE_LATEST, generate_latest

from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.model import AlarmState
from rampwarden.picture import Broker, Picture

_DISK_WITHIN_S = 1.0
Counts = Mapping[str, Callable[[], int]]
"""What is not in the picture, by name: `readings` since the watch began, `outbox_waiting` events."""


class Metrics:
    """Makes the text; `counts` are asked each time."""

    content_type = CONTENT_TYPE_LATEST

    def __init__(self, look: Callable[[], Picture], counts: Counts) -> None:
        self._look = look
        self._counts = counts
        self._free_room = _FreeRoom()

    async def text(self) -> bytes:
        """Give the figures of this moment."""
        picture = self._look()
        free_bytes = await self._free_room.bytes_of(picture.about.record)
        registry = CollectorRegistry()
        registry.register(_Figures(picture, {name: count() for name, count in self._counts.items()}, free_bytes))
        text: bytes = generate_latest(registry)  # type: ignore[no-untyped-call]
        return text


class _Figures:
    """One moment's figures, as the library collects them."""

    def __init__(self, picture: Picture, counts: Mapping[str, int], free_bytes: int | None) -> None:
        self._picture = picture
        self._counts = counts
        self._free_bytes = free_bytes

    def collect(self) -> Iterator[Metric]:
        """Give each figure with its name, its help and its value."""
        picture, health = self._picture, self._picture.health
        about, status = picture.about, picture.status
        yield InfoMetricFamily(
            "rampwarden_heat",
            "What is being watched.",
            {"schedule": about.title, "mode": about.mode, "started": about.started, "crucible": about.crucible},
        )
        yield _gauge("heat_seconds", "Time of the heat, s.", status.time_s)
        if status.temp_c is not None:
            yield _gauge("temperature_celsius", "The temperature that is shown, °C.", status.temp_c)
        if (age_s := picture.reading_age_by(time.monotonic())) is not None:
            yield _gauge("reading_age_seconds", "Age of the last reading, s of the heat.", age_s)
        if "readings" in self._counts:
            yield _counter("readings", "Readings that were believed.", self._counts["readings"])
        yield _counter("lost_frames", "Frames of the board that never came.", health.lost_frames)
        yield _counter("garbled_lines", "Lines of the board that could not be read.", health.garbled_lines)
        states = GaugeMetricFamily("rampwarden_alarms", "Alarms that are not normal, by state.", labels=["state"])
        for state in AlarmState:
            if state is not AlarmState.NORMAL:
                states.add_metric([state], sum(each.state is state for each in status.alarms))
        yield states
        standing = GaugeMetricFamily(
            "rampwarden_alarm", "1 while the alarm stands, acknowledged or not.", labels=["alarm", "priority"]
        )
        on = {each.alarm: each.priority for each in status.alarms if each.state in _STANDING}
        usual = {name: entry.priority for name, entry in CATALOGUE.items()}
        # Those of other probes are named by them, and are in no list before they stand.
        for name, priority in {**usual, **on}.items():
            standing.add_metric([name, priority], float(name in on))
        yield standing
        yield _gauge("unfiled_events", "Events that are not on disk yet.", picture.unfiled)
        yield _gauge("record_failing", "1 while the record cannot be written.", float(bool(health.record_trouble)))
        if health.broker is not Broker.NONE:
            reached = float(health.broker is Broker.REACHED)
            yield _gauge("broker_reached", "1 while somebody is reached over MQTT.", reached)
        if "outbox_waiting" in self._counts:
            yield _gauge(
                "outbox_waiting_events", "Events that the broker has not taken.", self._counts["outbox_waiting"]
            )
        if self._free_bytes is not None:
            yield _gauge("disk_free_bytes", "What is free where the record is written, bytes.", self._free_bytes)


_STANDING = (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED)


def _gauge(name: str, help_text: str, value: float) -> Metric:
    return GaugeMetricFamily(f"rampwarden_{name}", help_text, value=value)


def _counter(name: str, help_text: str, value: float) -> Metric:
    return CounterMetricFamily(f"rampwarden_{name}", help_text, value=value)


class _FreeRoom:
    """Asks what is free, in a thread that nobody waits for at an end; no second one while the disk owes an answer."""

    def __init__(self) -> None:
        self._asking: threading.Thread | None = None

    async def bytes_of(self, record: str) -> int | None:
        """Give what is free where the record is written, bytes; None where that is not told in time."""
        if self._asking is not None and self._asking.is_alive():
            return None
        loop = asyncio.get_running_loop()
        answer: asyncio.Future[int | None] = loop.create_future()

        def settle(free: int | None) -> None:
            if not answer.done():
                answer.set_result(free)

        def ask() -> None:
            free = _free_bytes(record)
            with contextlib.suppress(RuntimeError):  # the page has ended meanwhile
                loop.call_soon_threadsafe(settle, free)

        self._asking = threading.Thread(target=ask, name="free room", daemon=True)
        self._asking.start()
        try:
            async with asyncio.timeout(_DISK_WITHIN_S):
                return await answer
        except TimeoutError:
            return None


def _free_bytes(record: str) -> int | None:
    try:
        return shutil.disk_usage(Path(record).parent).free
    except OSError:
        return None
