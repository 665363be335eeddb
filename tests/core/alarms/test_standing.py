"""What a standing alarm says now: its present figures, its worst, that it is over, and what overtook it."""

from collections.abc import Mapping

from rampwarden.core.alarms.desk import AlarmDesk
from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.model import AlarmState, Finding, StandingAlarm

LIMIT = 25.0


def climb(climb_c: float) -> Finding:
    return Finding(climb_c, LIMIT, "°C", f"{climb_c:.0f} °C within 15 min, limit 25")


class Desk:
    """A desk with the catalogue's own alarms, judged once a second."""

    def __init__(self) -> None:
        self.desk = AlarmDesk(CATALOGUE, (), lambda: ("oven drying", 1))
        self.changes: list[tuple[str, str, str]] = []

    def judge(self, time_s: float, found: Mapping[str, Finding]) -> None:
        names = ("ramp-high", "ramp-forecast", "signal-lost")
        for change in self.desk.judge(time_s, names, found):
            self.changes.append((change.alarm, change.worst, change.overtaken_by))

    def only(self, now_found: Mapping[str, Finding] | None = None) -> StandingAlarm:
        (alarm,) = self.desk.standing((), now_found or {})
        return alarm


def test_figures_are_the_present_ones_and_the_worst_stands_beside_them() -> None:
    """26 °C for half an hour, while the pot reached 45, was the figure of its first second."""
    it = Desk()
    for time_s, climb_c in ((1.0, 26.0), (2.0, 45.0), (3.0, 31.0)):
        it.judge(time_s, {"ramp-high": climb(climb_c)})
    alarm = it.only()
    assert (alarm.value, alarm.fact, alarm.text) == (31.0, climb(31.0).what, climb(31.0).what)
    assert alarm.worst == climb(45.0).what
    assert (alarm.segment, alarm.segment_number, alarm.raised_s) == ("oven drying", 1, 1.0)


def test_a_condition_that_is_gone_is_not_told_as_present() -> None:
    """Between its end and the end of its off-delay it says since when it is not so."""
    it = Desk()
    it.judge(60.0, {"ramp-high": climb(45.0)})
    it.judge(121.0, {})
    alarm = it.only()
    assert (alarm.gone_s, alarm.text) == (121.0, "not so since 0:02; it was: 45 °C within 15 min, limit 25")


def test_an_alarm_that_is_over_orders_nothing_and_says_when_it_ended() -> None:
    """Obeying it would be a mistake; it only waits for somebody to have seen it."""
    it = Desk()
    it.judge(60.0, {"ramp-high": climb(26.0)})
    it.judge(61.0, {"ramp-high": climb(45.0)})
    it.judge(62.0, {})
    it.judge(14_520.0, {})
    alarm = it.only()
    assert alarm.state is AlarmState.RETURNED_UNACKNOWLEDGED
    assert (alarm.action, alarm.order, alarm.is_first, alarm.ended_s) == ("", "", False, 14_520.0)
    assert alarm.text == "ended at 4:02; it was: 45 °C within 15 min, limit 25"
    assert it.changes[-1] == ("ramp-high", "45 °C within 15 min, limit 25", "")


def test_one_that_another_overtook_says_so() -> None:
    """A caution is not looked for beside the alarm it cautioned of: that is no return to normal."""
    it = Desk()
    caution = {"ramp-forecast": Finding(120.0, 100.0, "°C/h", "120 ± 4 °C/h, may be over the limit of 100")}
    it.judge(1.0, caution)
    for time_s in range(2, 70):
        it.judge(float(time_s), {"ramp-high": climb(30.0)})
    assert it.changes[-1] == ("ramp-forecast", "", "ramp-high")
    over = next(each for each in it.desk.standing() if each.alarm == "ramp-forecast")
    assert over.text.startswith("overtaken by ramp-high at 0:01; it was: 120 ± 4 °C/h")

    alone = Desk()
    alone.judge(1.0, caution)
    alone.judge(2.0, {})
    alone.judge(70.0, {})
    assert alone.changes[-1] == ("ramp-forecast", "", "")


def test_what_is_judged_once_is_told_as_it_is_now() -> None:
    """Silence is found once and grows; whoever looks changes nothing of what will be told."""
    it = Desk()
    it.judge(10.0, {"signal-lost": Finding(10.0, 10.0, "s", "no reading for 10 s")})
    later = {"signal-lost": Finding(60.0, 10.0, "s", "no reading for 1 min")}
    assert it.only(later).text == "no reading for 1 min"
    assert it.only().text == "no reading for 10 s"


def test_the_worst_is_on_the_side_it_was_raised_for() -> None:
    """What comes back through a deadband is nearer to its limit from the other side, and no worse."""
    desk = AlarmDesk(CATALOGUE)
    for time_s, temp_c in ((0.0, 722.0), (61.0, 725.0), (62.0, 718.0)):
        found = {"soak-deviation": Finding(temp_c, 720.0, "°C", f"{temp_c:.0f} °C, band 680 to 720; a reason")}
        desk.judge(time_s, ("soak-deviation",), found)
    (alarm,) = desk.standing()
    assert (alarm.value, alarm.worst) == (718.0, "725 °C, band 680 to 720")
