"""What a siege came to: its watch held against its twin, against its own records, and against what was done to it."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

from tests.benchmarks.siege.besieged import Said, WatchProcess
from tests.benchmarks.siege.stronghold import SIGNAL_LOST_S, Span, Stronghold

from rampwarden.core.catalogue import CATALOGUE

LATE_S = 2.0
# So long after a blind time an alarm's delay may take anew, and its judges may want readings.
_SETTLES_S = 12.0
# Two watches see the same bytes, and their grids of whole seconds do not lie at the same moments.
_APART_S = 5.0
# A broker that is killed takes with it what it had acknowledged and not passed on.
_BROKER_TAKES_S = 2.0
_SAYS_BLIND_WITHIN_S = 15.0
_PRESENT = ("unacknowledged", "acknowledged")
# What is made of minutes of readings, and what of moments: who has missed some of those need not come to the same.
_MADE_OF_S = 240.0
_SLOWLY_MADE = frozenset(name for name, entry in CATALOGUE.items() if entry.is_opinion) - {
    *("ramp-forecast", "ceiling-forecast"),
}


@dataclass
class Tally:
    """The six columns, the seventh, and what stands behind each."""

    columns: dict[str, list[str]] = field(default_factory=lambda: {name: [] for name in COLUMNS})
    taken: list[str] = field(default_factory=list)
    twin_alarms: int = 0
    over_unseen: int = 0

    @property
    def is_clean(self) -> bool:
        """Whether the six are zero."""
        return not any(self.columns.values())


COLUMNS = (
    "readings lost",
    "alarms lost",
    "alarms repeated with another key",
    "alarms late",
    "starts that did not watch",
    "false alarms",
)


def reckon(siege: Stronghold, end_s: float) -> Tally:
    """Count."""
    tally = Tally()
    tally.columns["starts that did not watch"] += siege.bad_starts
    _reckon_readings(siege, tally)
    _reckon_alarms(siege, tally, end_s)
    _reckon_false(siege, tally, end_s)
    _reckon_keys(siege, tally)
    return tally


def _within(at_s: float, spans: list[Span], before_s: float = 0.0, after_s: float = 0.0) -> Span | None:
    return next((span for span in spans if span.from_s - before_s <= at_s <= span.to_s + after_s), None)


def _overlaps(from_s: float, to_s: float, spans: list[Span]) -> bool:
    return any(span.from_s <= to_s and span.to_s >= from_s for span in spans)


def _reckon_readings(siege: Stronghold, tally: Tally) -> None:
    recorded = siege.numbers_recorded()
    losing = [span for span in siege.blind if span.loses]
    for sent in siege.line.board.sent:
        if not sent.intact or sent.number in recorded or sent.number in siege.destroyed:
            continue
        if _within(sent.at_s, losing):
            continue
        if span := _within(sent.at_s, siege.unwritten):
            tally.taken.append(f"reading {sent.number}: {span.what}")
        else:
            tally.columns["readings lost"].append(f"number {sent.number} at {sent.heat_s:.1f} s")


def _heard_alone(siege: Stronghold) -> list[Said]:
    """Give what only the broker's subscriber was told: killed between record and log, a watch tells it from there."""
    said = {(each.alarm, each.line.get("state"), each.line.get("time_s")) for each in siege.watch.said if each.alarm}
    alarms = [(each.at_s, each.body) for each in siege.ear.heard if each.body.get("alarm")]
    return [
        Said(at_s, {"kind": "alarm", "alarm": body["alarm"], "state": body["state"], "time_s": body["elapsed_s"]})
        for at_s, body in alarms
        if (body["alarm"], body["state"], body["elapsed_s"]) not in said
    ]


def standing_times(all_said: Iterable[Said], end_s: float) -> dict[str, list[tuple[float, float]]]:
    """Give from when to when each alarm stood with its condition present, by what was said and when."""
    began: dict[str, float] = {}
    found: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for said in sorted(all_said, key=lambda each: each.at_s):
        if said.line.get("kind") == "heat-started":
            for alarm, from_s in began.items():
                found[alarm].append((from_s, said.at_s))
            began = {}
        if not said.alarm:
            continue
        if said.line.get("state") in _PRESENT:
            began.setdefault(said.alarm, said.at_s)
        elif said.alarm in began:
            found[said.alarm].append((began.pop(said.alarm), said.at_s))
    for alarm, from_s in began.items():
        found[alarm].append((from_s, end_s))
    return found


def _stands(times: list[tuple[float, float]], from_s: float, to_s: float) -> float | None:
    """Give when it stood first within these times; None if it did not."""
    return next((max(began, from_s) for began, over in times if began <= to_s and over >= from_s), None)


def _raised(watch: WatchProcess) -> list[Said]:
    return [said for said in list(watch.said) if said.alarm and said.line.get("state") == "unacknowledged"]


def _seen_by_s(siege: Stronghold, at_s: float) -> float:
    """Give by when the watch must have seen what was to be seen at a moment: blind times that join are one."""
    by_s = at_s
    for span in sorted([*siege.blind, *siege.doubted], key=lambda span: span.from_s):
        if span.from_s <= by_s <= span.to_s + _SETTLES_S:
            by_s = max(by_s, span.to_s + _SETTLES_S)
    return by_s


def _reckon_alarms(siege: Stronghold, tally: Tally, end_s: float) -> None:
    mine = standing_times([*siege.watch.said, *_heard_alone(siege)], end_s)
    its = standing_times(siege.twin.said, end_s)
    sensor = sorted(t for alarm, times in mine.items() if alarm.startswith(("sensor-", "signal-")) for t in times)
    for alarm, times in its.items():
        for began_s, over_s in times:
            tally.twin_alarms += 1
            by_s = _seen_by_s(siege, began_s) + LATE_S
            if _stands(mine[alarm], began_s - _APART_S, by_s) is not None:
                continue
            where = f"{alarm} at {began_s - siege.began_s:.0f} s"
            doubt = _within(began_s, siege.doubted, after_s=_SETTLES_S)
            if (
                doubt is not None
                and (
                    _stands(sensor, began_s - 1.0, began_s + _SAYS_BLIND_WITHIN_S) is not None
                    or doubt.to_s - doubt.from_s < _SAYS_BLIND_WITHIN_S
                )
            ) or (alarm in _SLOWLY_MADE and _overlaps(began_s - _MADE_OF_S, over_s, [*siege.blind, *siege.doubted])):
                tally.over_unseen += 1
            elif over_s < by_s or by_s > end_s:
                # Over before anybody could have seen it, or still within its time when the siege ended.
                tally.over_unseen += 1
            elif (came_s := _stands(mine[alarm], by_s, over_s)) is not None:
                tally.columns["alarms late"].append(f"{where}, {came_s - by_s + LATE_S:.1f} s")
            else:
                tally.columns["alarms lost"].append(where)


def _is_own_blindness(siege: Stronghold, said: Said) -> bool:
    """Tell whether it says that no reading came after a time in which it could have none, or lost them by a kill."""
    spans = [span for span in (*siege.blind, *siege.unwritten) if span.to_s - span.from_s > SIGNAL_LOST_S]
    return said.alarm == "signal-lost" and _within(said.at_s, spans, after_s=_APART_S) is not None


def _reckon_false(siege: Stronghold, tally: Tally, end_s: float) -> None:
    its = standing_times(siege.twin.said, end_s)
    for said in _raised(siege.watch):
        if said.at_s > end_s or _is_own_blindness(siege, said):
            continue
        if any(said.alarm in span.alarms and span.from_s <= said.at_s <= span.to_s for span in siege.explained):
            continue
        blind = _within(said.at_s, [*siege.blind, *siege.doubted], after_s=_SETTLES_S)
        from_s = min(said.at_s, blind.from_s if blind else said.at_s) - _APART_S
        if siege.course.justifies(said.alarm, said.at_s - siege.began_s):
            continue
        if _stands(its[said.alarm], from_s, said.at_s + _APART_S) is None:
            text = f"{said.alarm} at {said.at_s - siege.began_s:.0f} s: {said.line.get('event')}"
            tally.columns["false alarms"].append(text)


def _reckon_keys(siege: Stronghold, tally: Tally) -> None:
    """Every alarm that the log told of was heard far away, once, and in time where the broker was there."""
    keys: dict[tuple[object, ...], dict[str, float]] = defaultdict(dict)
    for heard in list(siege.ear.heard):
        body = heard.body
        if body.get("alarm"):
            what = (body["alarm"], body["state"], body["elapsed_s"], body["text"])
            keys[what].setdefault(str(body["key"]), heard.at_s)
    for what, found in keys.items():
        if len(found) > 1:
            tally.columns["alarms repeated with another key"].append(f"{what[0]} {what[1]} {what[2]} s: {list(found)}")
    heard_s = {(what[0], what[1], what[2]): min(found.values()) for what, found in keys.items()}
    for said in list(siege.watch.said):
        if not said.alarm:
            continue
        at_s = heard_s.get((said.alarm, said.line.get("state"), said.line.get("time_s")))
        where = f"{said.alarm} {said.line.get('state')} at {said.at_s - siege.began_s:.0f} s"
        troubled = _within(said.at_s, siege.broker_troubles, _BROKER_TAKES_S, 30.0)
        if at_s is None:
            if span := _within(said.at_s, siege.unwritten):
                tally.taken.append(f"event {where}: {span.what}")
            elif not _within(said.at_s, siege.broker_troubles, _BROKER_TAKES_S):
                tally.columns["alarms lost"].append(f"{where}: told here, never heard at the broker")
        elif at_s - said.at_s > LATE_S and not troubled and not _within(said.at_s, siege.blind, 1.0, 5.0):
            tally.columns["alarms late"].append(f"{where}: at the broker {at_s - said.at_s:.1f} s later")
