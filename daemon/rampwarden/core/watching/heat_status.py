"""Where the heat stands, put together for whoever displays it."""

from rampwarden.core.heat import HeatTracker, Phase, TimeToGo
from rampwarden.core.model import (
    HeatStatus,
    Measurement,
    OpenQuestion,
    PotReadiness,
    ProbeStatus,
    Quality,
    StandingAlarm,
    StandingStatement,
    StandInState,
    WithheldAlarms,
)
from rampwarden.core.pot_keeper import SoakClocks
from rampwarden.core.watching.pot_physics import PotPhysics
from rampwarden.core.watching.schedule_passage import SchedulePassage


def heat_status(
    time_s: float,
    measurement: Measurement | None,
    tracker: HeatTracker,
    passage: SchedulePassage,
    clocks: SoakClocks,
    alarms: tuple[StandingAlarm, ...],
    ready: PotReadiness | None,
    statement: StandingStatement | None,
    withheld: WithheldAlarms | None,
    place: str,
    to_go: TimeToGo,
    physics: PotPhysics,
    probes: tuple[ProbeStatus, ...],
    standing_in: StandInState | None,
    questions: tuple[OpenQuestion, ...],
    watched_by: str,
) -> HeatStatus:
    """Give where the heat stands at `time_s` (s): nothing that a display would still have to work out."""
    schedule, segment, ramp = tracker.schedule, tracker.segment, passage.ramp
    temp_c = measurement.temp_c if measurement else None
    outlook = to_go.look(time_s, tracker.soaked_s, in_band=tracker.phase is Phase.SOAKING)
    to_next, to_end = outlook.to_next, outlook.to_end
    return HeatStatus(
        time_s=time_s,
        temp_c=temp_c,
        quality=measurement.quality if measurement else Quality.BAD,
        ramp=ramp,
        segment=segment.name if segment else None,
        segment_number=tracker.index + 1,
        segment_count=len(schedule.segments),
        phase=tracker.phase.value,
        target_c=segment.target_c if segment else None,
        allowed_c_per_s=(None, None) if segment is None else schedule.allowed_c_per_s(tracker.index),
        soaked_s=tracker.soaked_s,
        hold_s=segment.hold_s if segment and not passage.done else 0.0,
        to_next_s=None if to_next is None else to_next.best_s,
        to_end_s=None if to_end is None else to_end.best_s,
        alarms=alarms,
        read_s=measurement.time_s if measurement else None,
        unconfirmed_s=clocks.unconfirmed_s(tracker.index),
        readiness=ready,
        statement=statement,
        withheld=withheld,
        to_next_range_s=None if to_next is None else to_next.range_s,
        to_end_range_s=None if to_end is None else to_end.range_s,
        later_s=outlook.rest.later_s,
        is_settling=outlook.settling,
        stops_near_c=outlook.stops_near_c,
        place=place,
        earlier_heats=len(to_go.earlier_heats),
        wall=physics.wall_state(),
        gas=physics.gas_state(),
        water=physics.water_state(),
        probes=probes,
        standing_in=standing_in,
        questions=questions,
        watched_by=watched_by,
    )
