"""The probes beside the followed one: an instrument chain each, and sensor alarms that name their probe.

Nothing here knows the schedule's segments or touches the followed probe's stages: what one probe does or fails to do
never silences another. With a single probe there is nothing here to do and nothing to pay for.
"""

import math
from collections.abc import Mapping

from msgspec.structs import replace

from rampwarden.core.alarm_entry import AlarmEntry
from rampwarden.core.catalogue import CATALOGUE, MEANINGLESS, OF_PROBES, probe_alarm, probe_entry
from rampwarden.core.instrument import SENSOR_INTERMITTENT, InstrumentChain, sensor_findings
from rampwarden.core.limits import TEMPERATURE_HIGH
from rampwarden.core.model import Finding, Measurement, Notice, NoticeName, ProbeReading, ProbeStatus, Quality, Reading
from rampwarden.core.monitor_alarms import BOARD_RESTARTED, SIGNAL_LOST
from rampwarden.core.monitor_parameters import MonitorParameters, OtherProbe
from rampwarden.core.quantities import format_duration
from rampwarden.core.watching.alarm_reports import AlarmReports


def probe_alarms(parameters: MonitorParameters) -> dict[str, AlarmEntry]:
    """Give the entries of every other probe's alarms by their names, with the delays that settings gave them."""
    return {
        probe_alarm(probe.name, name): probe_entry(
            probe.name, parameters.alarms.get(name, CATALOGUE[name]), is_carried=probe.place == "pot"
        )
        for probe in parameters.probes
        for name in OF_PROBES
    }


class OtherProbes:
    """Every probe of one heat but the followed one; `due_s` is when the next of them counts as silent."""

    def __init__(self, parameters: MonitorParameters, alarms: AlarmReports) -> None:
        self._alarms = alarms
        self._port_trouble: dict[str, str] = {}
        self._watched = {
            probe.name: _WatchedProbe(probe, parameters.junction_range_c, alarms) for probe in parameters.probes
        }
        self.due_s = math.inf

    def begin(self, time_s: float) -> None:
        """The watch begins at `time_s` (s): a probe that never comes is lost from then on."""
        for watched in self._watched.values():
            watched.due_s = time_s + watched.lost_s
        self._update_due()

    def take(self, reading: ProbeReading, now_s: float) -> Measurement | None:
        """Take one reading at `now_s`, s on the heat's clock; of a probe nobody has named it says nothing."""
        watched = self._watched.get(reading.probe)
        if watched is None:
            return None
        measurement = watched.take(reading)
        watched.due_s = now_s + watched.lost_s
        self._update_due()
        return measurement

    def heed(self, notice: Notice) -> None:
        """Take news of a further board: what is the matter with its port is the likely cause of its probes' silence."""
        if notice.notice is NoticeName.PORT_LOST:
            self._port_trouble[notice.board] = notice.text
        elif notice.notice is NoticeName.PORT_OPENED:
            self._port_trouble.pop(notice.board, None)
        elif notice.notice is NoticeName.BOARD_RESTARTED:
            named = replace(notice, text=f"board {notice.board}: {notice.text or 'it started again'}")
            self._alarms.judge_passing(BOARD_RESTARTED.name, named, "")

    def tick(self, now_s: float) -> None:
        """Say of each probe that is silent by `now_s` (s) that it is lost."""
        for watched in self._watched.values():
            if now_s >= watched.due_s:
                cause = self._port_trouble.get(watched.board, "")
                watched.lose(now_s - watched.due_s + watched.lost_s, cause)
        self._update_due()

    def statuses(self) -> tuple[ProbeStatus, ...]:
        """Give where each stands, in the order they were named in."""
        return tuple(watched.status() for watched in self._watched.values())

    def status(self, name: str) -> ProbeStatus | None:
        """Give where one stands; None where none is called so."""
        watched = self._watched.get(name)
        return None if watched is None else watched.status()

    def _update_due(self) -> None:
        self.due_s = min((watched.due_s for watched in self._watched.values()), default=math.inf)


class _WatchedProbe:
    """One other probe: measured and judged by itself alone."""

    def __init__(self, probe: OtherProbe, junction_range_c: tuple[float, float], alarms: AlarmReports) -> None:
        self.due_s = math.inf
        self.board, self.lost_s = probe.board, probe.signal_lost_s
        self._probe = probe
        self._chain = InstrumentChain(probe.thermocouple_type, probe.tolerance_class, probe.calibration)
        self._junction_range_c = junction_range_c
        self._alarms = alarms
        self._names = {name: probe_alarm(probe.name, name) for name in OF_PROBES}
        self._own = {own: name for name, own in self._names.items()}
        self._silent = (self._names[SIGNAL_LOST.name],)
        self._ceiling = (self._names[TEMPERATURE_HIGH.name],)
        self._sensor = tuple(own for own in self._own if own not in (*self._silent, *self._ceiling))
        self._is_lost = False

    def take(self, reading: ProbeReading) -> Measurement:
        as_usual = Reading(reading.time_s, reading.emf_uv, reading.junction_c, reading.temp_c, reading.faults)
        measurement, range_fault = self._chain.measure(as_usual)
        self._is_lost = False
        alarms = self._alarms
        raised = [self._own[own] for own in alarms.raised if own in self._own] if alarms.raised else ()
        alarms.judge(self._silent, {})
        found = sensor_findings(as_usual, range_fault, self._junction_range_c, raised)
        intermittence = self._chain.intermittence
        if intermittence.seconds > 0.0:
            if not MEANINGLESS.isdisjoint(raised):
                intermittence.excuse()
            elif (too_few := intermittence.finding()) is not None:
                found[SENSOR_INTERMITTENT.name] = too_few
        self._judge(self._sensor, found)
        if measurement.quality is Quality.GOOD:
            self._judge(self._ceiling, self._too_hot(measurement, is_raised=TEMPERATURE_HIGH.name in raised))
        return measurement

    def lose(self, silent_s: float, cause: str) -> None:
        self.due_s = math.inf
        self._is_lost = True
        where = f" from board {self.board}" if self.board else ""
        what = f"no reading{where} for {format_duration(silent_s)}{f': {cause}' if cause else ''}"
        self._judge(self._silent, {SIGNAL_LOST.name: Finding(round(silent_s, 1), self.lost_s, "s", what)})

    def status(self) -> ProbeStatus:
        probe, last = self._probe, self._chain.shown
        if last is None or last.temp_c is None or self._is_lost:
            read_s = None if last is None else last.time_s
            return ProbeStatus(probe.name, probe.place, None, Quality.BAD, read_s, None)
        expanded_c = self._chain.expanded_uncertainty_c(last.temp_c)
        return ProbeStatus(probe.name, probe.place, last.temp_c, last.quality, last.time_s, expanded_c)

    def _too_hot(self, measurement: Measurement, *, is_raised: bool) -> dict[str, Finding]:
        temp_c, ceiling_c = measurement.temp_c, self._probe.ceiling_c
        if temp_c is None or ceiling_c is None:
            return {}
        if temp_c <= ceiling_c - (TEMPERATURE_HIGH.deadband if is_raised else 0.0):
            return {}
        what = f"{temp_c:.0f} °C, its ceiling {ceiling_c:.0f}"
        return {TEMPERATURE_HIGH.name: Finding(round(temp_c, 1), ceiling_c, "°C", what)}

    def _judge(self, judged: tuple[str, ...], found: Mapping[str, Finding]) -> None:
        self._alarms.judge(judged, {self._names[name]: finding for name, finding in found.items()})
