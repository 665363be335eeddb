"""The followed probe and another one together: which of them is the pot's, and what is told of the two.

Composes `two_probes` with the heat. With no second probe in pot or chamber there is nothing here to do. A probe that is
out of its place raises an alarm; a pot that lags is told as a message, since a charge is nobody's fault.
"""

from collections.abc import Callable

from rampwarden.core.alarm_entry import names
from rampwarden.core.heat import HeatTracker
from rampwarden.core.model import Finding
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.pot import Place
from rampwarden.core.schedule import SegmentKind
from rampwarden.core.two_probes import (
    PROBE_UNSEATED,
    PROBES_DISAGREE,
    TWO_PROBE_ALARMS,
    Between,
    Pair,
    Settled,
    TwoProbes,
)
from rampwarden.core.watching.alarm_reports import AlarmReports
from rampwarden.core.watching.event_list import EventList
from rampwarden.core.watching.schedule_passage import SchedulePassage
from rampwarden.core.watching.together_words import together_words

_OTHER = {Place.POT.value: Place.CHAMBER.value, Place.CHAMBER.value: Place.POT.value}
_ALARMS = names(TWO_PROBE_ALARMS)
_MISPLACED = (Between.POT_PROBE_STEPPED, Between.CHAMBER_PROBE_STEPPED, Between.OUT_OF_SEAT)


class ProbesTogether:
    """Follows pot and chamber through one heat, where there is a probe in each."""

    def __init__(
        self,
        parameters: MonitorParameters,
        events: EventList,
        tracker: HeatTracker,
        passage: SchedulePassage,
        alarms: AlarmReports,
        take_pair: Callable[[Pair | None], None],
    ) -> None:
        self._events, self._tracker, self._passage, self._alarms = events, tracker, passage, alarms
        self._take_pair = take_pair
        # A followed probe of which nobody has said where it hangs is taken for the pot's, as in the settings.
        followed = parameters.place or Place.POT.value
        self._follows_pot = followed == Place.POT.value
        other = _OTHER.get(followed)
        self._beside = next((probe.name for probe in parameters.probes if probe.place == other), "")
        self._both = TwoProbes() if self._beside else None
        self._entered: tuple[int, bool] | None = None
        self._told: Settled | None = None
        self._pair: Pair | None = None

    @property
    def doubted_since_s(self) -> float | None:
        """Since when the followed probe says nothing of the pot, s: it is out of its seat. None while it does."""
        told = self._told
        out = told is not None and told.between is Between.OUT_OF_SEAT and self._follows_pot
        return told.since_s if told is not None and out else None

    def feed(self, time_s: float, temp_c: float) -> None:
        """Take a believed temperature of the followed probe (s, °C)."""
        if self._both is not None:
            self._take(self._both, time_s, temp_c, on_pot=self._follows_pot)

    def feed_beside(self, time_s: float, probe: str, temp_c: float) -> None:
        """Take a believed temperature of another probe, by its name (s, °C)."""
        if self._both is not None and probe == self._beside:
            self._take(self._both, time_s, temp_c, on_pot=not self._follows_pot)

    def resume(self) -> None:
        """Go on after a blind time."""
        if self._both is not None:
            self._both.resume()

    def _take(self, both: TwoProbes, time_s: float, temp_c: float, *, on_pot: bool) -> None:
        segment = self._tracker.segment
        if segment is None:
            return
        entered = (self._tracker.index, self._passage.done)
        if entered != self._entered:
            self._entered = entered
            both.enter(
                time_s,
                heats=segment.kind.heats and not self._passage.done,
                soaks=segment.kind is SegmentKind.SOAK,
                carries=segment.kind is SegmentKind.TRANSFER,
            )
        settled = both.feed(time_s, temp_c, on_pot=on_pot)
        if settled is not None and settled.between is Between.POT_LAGS:
            self._events.observe(together_words(settled))
        if both.pair is not self._pair:
            # What stands beside a probe that is not where it was tells nothing of heat.
            self._pair = both.pair
            self._take_pair(None if self._told is not None and self._told.between in _MISPLACED else both.pair)
        if both.standing is not None or self._told is not None or not self._alarms.raised.isdisjoint(_ALARMS):
            self._told = both.standing
            self._alarms.judge(_ALARMS, self._findings())

    def _findings(self) -> dict[str, Finding]:
        told = self._told
        if told is None or told.between is Between.POT_LAGS:
            return {}
        unseats = told.between is Between.OUT_OF_SEAT and self._follows_pot
        name = PROBE_UNSEATED.name if unseats else PROBES_DISAGREE.name
        return {name: Finding(round(told.changed_k, 1), None, "K", together_words(told))}
