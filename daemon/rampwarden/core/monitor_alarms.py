"""The alarms the monitor itself raises: by its clock, or because the rim gave notice of something."""

from rampwarden.core.alarm_entry import AlarmEntry, ReportMeaning
from rampwarden.core.model import Priority
from rampwarden.core.short_orders import ShortOrder

SEGMENT_OVERDUE = AlarmEntry(
    name="segment-overdue",
    condition="the segment has lasted longer than its time limit",
    priority=Priority.MEDIUM,
    on_delay_s=0.0,
    off_delay_s=0.0,
    about_delays="no delays: seconds mean nothing against minutes",
    why="something the schedule counted on has not happened",
    action="look at the furnace; mark or skip the segment if it is done",
    short_order=ShortOrder.SEE_DONE,
    time_to_act="minutes",
    waits_for_reading=False,
    report=ReportMeaning.OVERDUE,
)

SIGNAL_LOST = AlarmEntry(
    name="signal-lost",
    condition="no reading has come for the set time",
    priority=Priority.HIGH,
    on_delay_s=0.0,
    off_delay_s=5.0,
    about_delays="[signal] lost_after is its on-delay, a second one would add to it; five seconds of readings end it",
    why="nobody watches the heat while readings are missing; assume the furnace is hot",
    action="check cable and board, watch the furnace by eye",
    short_order=ShortOrder.CHECK_CABLE,
    time_to_act="at once",
    waits_for_reading=False,
    report=ReportMeaning.READING_IN_DOUBT,
    look_at=("the board's supply and USB cable",),
)

COOLING_UNSEEN = AlarmEntry(
    name="cooling-unseen",
    condition="the schedule is done, and the probe is pulled or lost before the pot is cold",
    priority=Priority.LOW,
    on_delay_s=0.0,
    off_delay_s=10.0,
    about_delays="no on-delay: [signal] lost_after has passed already",
    why="how the pot cools, and whether the heat is really off, is not seen any more",
    action="put the probe back, or end the heat; the account says that its cooling was not seen",
    short_order=ShortOrder.PROBE_BACK,
    time_to_act="when it suits",
    waits_for_reading=False,
)

START_WARNING = AlarmEntry(
    name="start-warning",
    condition="when the watch began, something spoke against this heat: register, maker's sheet, metal, schedule",
    priority=Priority.MEDIUM,
    on_delay_s=0.0,
    off_delay_s=0.0,
    about_delays="no delays: it stands from the start until somebody has acknowledged it",
    why="what is said once and scrolls away is not read, and the heat is begun against it",
    action="read it whole before you heat on, then acknowledge it",
    short_order=ShortOrder.READ_WARNING,
    time_to_act="before the pot is hot",
    waits_for_reading=False,
    ends_when_seen=True,
)

BOARD_RESTARTED = AlarmEntry(
    name="board-restarted",
    condition="the board's clock started again",
    priority=Priority.LOW,
    on_delay_s=0.0,
    off_delay_s=60.0,
    about_delays="a restart is a moment; it stands for a minute, so that somebody can see it",
    why="a loose supply shows first as restarts",
    action="check the board's power and USB cable",
    short_order=ShortOrder.CHECK_SUPPLY,
    time_to_act="this heat",
    waits_for_reading=False,
    look_at=("the board's supply and USB cable",),
)

RECORD_FAILING = AlarmEntry(
    name="record-failing",
    condition="the heat record cannot be written",
    priority=Priority.MEDIUM,
    on_delay_s=0.0,
    off_delay_s=0.0,
    about_delays="no delays: lines wait in memory, but not for ever",
    why="after the heat there would be nothing to look at; the watch itself goes on",
    action="free disk space or check the disk",
    short_order=ShortOrder.DISK_SPACE,
    time_to_act="minutes; lines wait in memory",
    waits_for_reading=False,
    matters_after_heat=True,
)

BROKER_UNREACHABLE = AlarmEntry(
    name="broker-unreachable",
    condition="no message reaches anybody over MQTT: link down, refused, or nobody subscribed",
    priority=Priority.MEDIUM,
    on_delay_s=0.0,
    off_delay_s=10.0,
    about_delays="no on-delay: the link has had its time to come back before this is said",
    why="whoever relies on a phone or another room hears nothing; the bell alone is left",
    action="stay by the furnace, look at network and broker",
    short_order=ShortOrder.STAY,
    time_to_act="minutes; events wait in the record",
    waits_for_reading=False,
    matters_after_heat=True,
)

OUTPUT_FAILING = AlarmEntry(
    name="output-failing",
    condition="the bell, voice, display, page or MQTT is off, or its worker died and was started again",
    priority=Priority.MEDIUM,
    on_delay_s=0.0,
    off_delay_s=60.0,
    about_delays="a death is a moment; it stands for a minute, so that somebody can see it",
    why="an alarm may have been shown or rung late or not at all",
    action="look at the alarms that stand, mend what is named; else keep the record and report the error",
    short_order=ShortOrder.READ_ALARMS,
    time_to_act="minutes; the watch itself goes on",
    waits_for_reading=False,
    matters_after_heat=True,
)

CLOCK_ALARMS = (SEGMENT_OVERDUE, SIGNAL_LOST, COOLING_UNSEEN)
"""What time alone brings about."""
NOTICED_ALARMS = (START_WARNING, BOARD_RESTARTED, RECORD_FAILING, BROKER_UNREACHABLE, OUTPUT_FAILING)
"""What board, record and outputs give notice of."""
