"""The furnace in the convention's words: payload forms, description, values and events."""

import json
import math
import re
from datetime import timedelta, timezone

import msgspec
import pytest
from tests.outputs.mqtt.broker import STARTED, alarm, message, standing, status

from rampwarden.core.alarm_entry import CHECK_THE_PROBE
from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.model import (
    AlarmState,
    CommandName,
    Event,
    GasState,
    HeatStatus,
    OpenQuestion,
    PotReadiness,
    ProbeStatus,
    Quality,
    Ramp,
    StandInState,
    WallPeak,
    WallState,
    WaterState,
)
from rampwarden.core.physics import gas_words, wall_words
from rampwarden.outputs.mqtt.homie import NODES, Device, HeatFacts
from rampwarden.outputs.mqtt.homie_commands import COMMANDS
from rampwarden.outputs.mqtt.homie_payloads import duration, moment, number, text
from rampwarden.outputs.mqtt.probe_nodes import nodes_of_probes

HEAT = HeatFacts("heat-1", "first heat", "pot 7", STARTED)


def values(now: HeatStatus) -> dict[str, str | None]:
    """Give every value by its path."""
    device = Device("homie", "furnace-1", "")
    return {path.removeprefix(f"{device.base}/"): value for path, _, value in device.values(now, HEAT)}


@pytest.mark.parametrize(
    ("value", "payload"),
    [(231.44, "231.4"), (-0.04, "-0.0"), (0.0, "0.0"), (None, None), (math.nan, None), (math.inf, None)],
)
def test_a_number_is_plain_and_what_is_none_is_nothing(value: float | None, payload: str | None) -> None:
    """NaN and infinity never leave the process."""
    assert number(value) == payload


@pytest.mark.parametrize(
    ("seconds", "payload"),
    [(0, "PT0S"), (59.6, "PT1M"), (3600, "PT1H"), (90061, "PT25H1M1S"), (None, None), (-1, None), (math.inf, None)],
)
def test_a_duration_is_iso_8601(seconds: float | None, payload: str | None) -> None:
    """Hours, minutes, seconds, and only those that are there."""
    assert duration(seconds) == payload


def test_an_empty_string_is_one_zero_byte() -> None:
    """An empty payload would delete the topic."""
    assert (text(""), text("a"), text(None)) == ("\x00", "a", None)


def test_a_time_is_in_utc_to_the_millisecond() -> None:
    """Whatever zone the record was begun in."""
    elsewhere = STARTED.astimezone(timezone(timedelta(hours=5)))
    assert moment(elsewhere, 61.5) == "2026-01-01T09:01:01.500Z"


def test_the_description_changes_its_version_exactly_when_it_changes() -> None:
    """Consumers compare versions only."""
    plain, same = (json.loads(Device("homie", "furnace-1", "").description()) for _ in range(2))
    other = json.loads(Device("homie", "furnace-1", "", [CommandName.NOTE]).description())
    assert plain == same
    assert plain["version"] != other["version"]
    assert isinstance(plain["version"], int)


def test_settable_is_only_what_is_allowed() -> None:
    """The convention asks a device to listen to everything it calls settable."""
    described = json.loads(Device("homie", "furnace-1", "", [CommandName.SHELVE]).description())
    settable = [
        f"{node}/{key}"
        for node, each in described["nodes"].items()
        for key, fields in each["properties"].items()
        if fields.get("settable")
    ]
    assert settable == ["alarm/shelve"]
    assert list(Device("homie", "furnace-1", "", [CommandName.SHELVE]).command_topics()) == [
        "homie/5/furnace-1/alarm/shelve/set"
    ]


def test_the_format_of_a_json_property_is_a_schema_written_as_a_string() -> None:
    """Escaped, not nested: one of the convention's later changes."""
    for _, each in COMMANDS.values():
        assert json.loads(each.format)["type"] == "object"
        assert isinstance(each.description()["format"], str)


def test_a_temperature_nobody_has_measured_lately_is_no_temperature() -> None:
    """The reading is half a minute old, or the signal is lost: quality bad and no number."""
    fresh = values(status(100.0, 231.4, read_s=70.1))
    stale = values(status(100.0, 231.4, read_s=69.9))
    lost = values(status(100.0, 231.4, standing(name="signal-lost")))
    over = values(status(100.0, 231.4, standing(AlarmState.RETURNED_UNACKNOWLEDGED, "signal-lost")))
    assert [(each["probe/temperature"], each["probe/quality"]) for each in (fresh, stale, lost, over)] == [
        ("231.4", "good"),
        (None, "bad"),
        (None, "bad"),
        ("231.4", "good"),
    ]


def test_every_enum_value_is_one_its_format_names() -> None:
    """A consumer may throw away a property whose value is not in its list."""
    for quality in Quality:
        now = msgspec.structs.replace(status(1.0), quality=quality)
        assert values(now)["probe/quality"] in NODES["probe"][1]["quality"].format.split(",")
    assert values(status(1.0))["schedule/phase"] in NODES["schedule"][1]["phase"].format.split(",")
    assert values(status(1.0, 20.0, standing()))["alarm/highest-priority"] == "high"
    assert values(status(1.0))["alarm/highest-priority"] == "none"


def test_open_questions_are_told_with_what_may_be_answered_and_gone_once_they_are() -> None:
    """Another program can ask them of somebody, and answer by the number."""
    mist = OpenQuestion(7, "Is there mist?", ("mist seen", "mist gone"), 60.0, "drying")
    asked = values(msgspec.structs.replace(status(61.0), questions=(mist,)))["heat/questions"]
    assert asked is not None
    assert json.loads(asked) == [
        {
            "question": 7,
            "text": "Is there mist?",
            "answers": ["mist seen", "mist gone"],
            "only_these": False,
            "checklist": False,
            "segment": "drying",
            "asked": moment(STARTED, 60.0),
        }
    ]
    assert values(status(61.0))["heat/questions"] == "[]"


def test_what_the_pot_is_ready_for_is_told_at_the_end_and_not_before() -> None:
    """By a value its format names, in words, and kept: it is no live value."""
    assert values(status(1.0))["heat/readiness"] is None
    assert values(status(1.0))["heat/readiness-text"] is None
    ready = PotReadiness("dry-it-first", "Dry it first.", ("It was stored damp.", "Another."))
    over = values(msgspec.structs.replace(status(1.0), readiness=ready))
    assert over["heat/readiness"] in NODES["heat"][1]["readiness"].format.split(",")
    assert over["heat/readiness-text"] == "Dry it first. It was stored damp."
    assert not NODES["heat"][1]["readiness"].live


def test_where_the_probe_hangs_has_its_own_topic_and_none_where_nobody_has_said() -> None:
    """Beside the temperature: it decides whose that is. It is kept like the heat's title."""
    assert values(status(1.0))["probe/place"] is None
    place = NODES["probe"][1]["place"]
    for each in ("pot", "chamber"):
        assert values(msgspec.structs.replace(status(1.0), place=each))["probe/place"] == each
        assert each in place.format.split(",")
    assert not place.live
    described = json.loads(Device("homie", "furnace-1", "").description())["nodes"]["probe"]["properties"]["place"]
    assert "runs ahead of the pot" in described["name"]


def test_soak_credit_that_is_not_confirmed_has_its_own_topic() -> None:
    """Whoever shows the soaked time can show what of it may turn out not to count."""
    soaking = msgspec.structs.replace(status(1.0), soaked_s=1200.0, unconfirmed_s=360.0)
    assert values(soaking)["schedule/soaked"] == "PT20M"
    assert values(soaking)["schedule/not-confirmed"] == "PT6M"


def test_ramps_are_in_degrees_an_hour_and_a_missing_one_is_nothing() -> None:
    """The unit stands in the description; zero is not the same as unknown."""
    assert values(status(1.0))["probe/ramp"] is None
    now = msgspec.structs.replace(status(1.0), ramp=Ramp(1.0, 100 / 3600, 0.001, 60.0))
    assert values(now)["probe/ramp"] == "100.0"
    assert values(now)["schedule/ramp-highest"] == "100.0"
    assert values(now)["schedule/ramp-lowest"] is None


def test_counts_tell_what_is_present_from_what_waits_for_a_person() -> None:
    """An acknowledged alarm is still there; one that has returned is not, and still waits."""
    now = status(
        1.0,
        20.0,
        standing(),
        standing(AlarmState.ACKNOWLEDGED, "ramp-low"),
        standing(AlarmState.RETURNED_UNACKNOWLEDGED, "soak-deviation"),
        standing(AlarmState.SHELVED, "junction-range"),
    )
    assert (values(now)["alarm/active-count"], values(now)["alarm/unacknowledged-count"]) == ("2", "2")


def test_what_is_over_or_shelved_tells_nobody_what_to_do() -> None:
    """Neither in the list of what stands nor in the sentence of its alert: obeyed late, an order does harm."""
    plain = "lower the heat or open the lid"
    for state, word in ((AlarmState.UNACKNOWLEDGED, "NEW"), (AlarmState.ACKNOWLEDGED, "ACKNOWLEDGED")):
        now = status(1.0, 20.0, standing(state))
        assert json.loads(values(now)["alarm/standing"] or "")[0]["action"] == plain
        assert dict(Device("homie", "furnace-1", "").alerts(now))["homie/5/furnace-1/$alert/ramp-high"] == (
            f"{word} · ramp-high since 0:01 drying: 142 °C/h over 15 min, limit 100 · {plain}"
        )
    for state in (AlarmState.RETURNED_UNACKNOWLEDGED, AlarmState.SHELVED):
        now = status(1.0, 20.0, standing(state))
        assert json.loads(values(now)["alarm/standing"] or "")[0]["action"] == ""
        assert not any(plain in (each or "") for _, each in Device("homie", "furnace-1", "").alerts(now))


def test_an_alarm_event_orders_what_its_text_does() -> None:
    """Once, when the alarm is raised. What becomes of it later is no order; one in doubt says what to do instead."""

    def action(event: Event) -> str:
        _, body = Device("homie", "furnace-1", "").event(event, "heat-1", STARTED, "heat-1:4", late=False)
        return str(json.loads(body)["action"])

    assert action(alarm(1.0)) == "lower the heat or open the lid"
    doubtful = msgspec.structs.replace(alarm(1.0), text=f"ramp-high · 142 °C/h, limit 100 · drying · {CHECK_THE_PROBE}")
    assert action(doubtful) == CHECK_THE_PROBE
    eased = CATALOGUE["ramp-high"].action_milder
    assert (
        action(msgspec.structs.replace(doubtful, text=f"ramp-high · 142 °C/h, limit 100 · drying · {eased}")) == eased
    )
    assert {action(alarm(1.0, state)) for state in AlarmState if state is not AlarmState.UNACKNOWLEDGED} == {""}


def test_every_alarm_of_the_catalogue_has_an_alert_topic_the_convention_allows() -> None:
    """So that one that is over can always be taken back."""
    alerts = dict(Device("homie", "furnace-1", "").alerts(status(1.0, 20.0, standing())))
    ids = {path.rpartition("/")[2] for path in alerts}
    assert ids == set(CATALOGUE)
    assert all(re.fullmatch("[a-z0-9-]+", each) for each in ids)
    assert [path for path, sentence in alerts.items() if sentence] == ["homie/5/furnace-1/$alert/ramp-high"]


def test_a_message_is_no_alarm_event_and_carries_no_alarm_fields() -> None:
    """Whoever listens to alarms only is not woken by a segment."""
    topic, body = Device("homie", "furnace-1", "").event(message(3.0), "heat-1", STARTED, "heat-1:4", late=True)
    assert topic == "homie/5/furnace-1/heat/event"
    assert json.loads(body) == {
        "key": "heat-1:4",
        "time": "2026-01-01T09:00:03.000Z",
        "heat": "heat-1",
        "elapsed_s": 3.0,
        "event": "segment-started",
        "segment": "drying",
        "segment_number": 1,
        "text": "drying · heat to 200 °C",
        "late": True,
        "on_disk": True,
    }


def test_an_alarm_value_that_is_no_number_becomes_null() -> None:
    """JSON has no NaN, and readers stumble over it."""
    event = msgspec.structs.replace(alarm(1.0), value=math.nan)
    _, body = Device("homie", "furnace-1", "").event(event, "heat-1", STARTED, "k", late=False)
    assert json.loads(body, parse_constant=pytest.fail)["value"] is None


def test_wall_gas_and_water_have_nodes_of_their_own_and_say_nothing_where_nothing_is_known() -> None:
    """Live values, which vanish if nobody renews them; each is described with its unit."""
    bare = values(status(1.0))
    assert {value for path, value in bare.items() if path.split("/")[0] in ("wall", "gas", "water")} == {None}
    now = msgspec.structs.replace(
        status(3600.0),
        wall=WallState(-31.26, 0.183, None, WallPeak(44.0, 1200.0, 2, 0.2, 0.1)),
        gas=GasState(1, 6.618, -8.44, 3.106, 1.0, 20.0, 2520.0, 6.1),
        water=WaterState(1800.0, 0.4, None, gone_g=152.0, gone_range_g=(116.0, 187.0)),
    )
    known = values(now)
    assert {path: value for path, value in known.items() if path.startswith("wall/")} == {
        "wall/through": "-31.3",
        "wall/greatest": "44.0",
        "wall/strength-share": "18.3",
        "wall/text": wall_words(now.wall),
    }
    assert {path: value for path, value in known.items() if path.startswith("gas/")} == {
        "gas/left": "6.62",
        "gas/liquid": "-8.4",
        "gas/pressure": "3.11",
        "gas/short-in": "PT42M",
        "gas/short-left": "6.10",
        "gas/end-left": None,
        "gas/text": gas_words(now.gas),
    }
    water = {path.removeprefix("water/"): value for path, value in known.items() if path.startswith("water/")}
    assert (water["leaving-since"], water["left-since"]) == ("2026-01-01T09:30:00.000Z", None)
    assert (water["gone"], water["gone-least"], water["gone-most"], water["dry"]) == (
        "152.0",
        "116.0",
        "187.0",
        "false",
    )
    assert "152 g of water gone" in str(water["text"])
    described = json.loads(Device("homie", "furnace-1", "").description())["nodes"]
    units = {key: each.get("unit") for key, each in described["gas"]["properties"].items()}
    assert (units["left"], units["liquid"], units["pressure"]) == ("kg", "°C", "bar")
    assert all(each.live and each.retained for node in ("wall", "gas", "water") for each in NODES[node][1].values())


def test_what_stands_in_is_live_though_the_followed_probe_is_silent_and_says_how_far_it_may_be_off() -> None:
    """Without a stand-in a lost signal leaves no temperature; with one it is a guess, and never without its doubt."""
    lost = status(100.0, 231.4, standing(name="signal-lost"), read_s=99.0)
    state = StandInState("chamber", "chamber", 40.0, 12.0, 14.4, ("25 °C / 15 min",), False)
    alone, guessed = values(lost), values(msgspec.structs.replace(lost, standing_in=state))
    assert alone["probe/temperature"] is None
    assert [alone[f"probe/{name}"] for name in ("standing-in", "uncertainty", "standing-in-text")] == [None] * 3
    assert guessed["probe/temperature"] is not None
    assert guessed["probe/standing-in"] == "chamber"
    assert guessed["probe/uncertainty"] == "14.4"
    assert guessed["probe/standing-in-text"] == "by the chamber probe, ± 14 °C; not guarded: 25 °C / 15 min"


def test_each_further_probe_has_a_node_of_its_own_in_which_nothing_old_stays() -> None:
    """Described before anything comes; what is too old to be the present one is no temperature."""
    device = Device("homie", "furnace-1", "", further=nodes_of_probes(("chamber", "bottle")))
    described = json.loads(device.description())["nodes"]
    assert {"probe", "probe-chamber", "probe-bottle"} <= set(described)
    assert described["probe-chamber"]["properties"]["temperature"]["unit"] == "°C"
    chamber = ProbeStatus("chamber", "chamber", 1043.6, Quality.GOOD, 99.0, 8.2)
    bottle = ProbeStatus("bottle", "bottle", 9.5, Quality.GOOD, 60.0, 2.5)
    now = msgspec.structs.replace(status(100.0), probes=(chamber, bottle))
    said = {path.removeprefix(f"{device.base}/"): value for path, _, value in device.values(now, HEAT)}
    assert said["probe-chamber/temperature"] == "1043.6"
    assert said["probe-chamber/uncertainty"] == "8.2"
    assert said["probe-chamber/place"] == "chamber"
    assert said["probe-chamber/quality"] == "good"
    assert said["probe-bottle/temperature"] is None
    assert said["probe-bottle/uncertainty"] is None
    assert said["probe-bottle/quality"] == "bad"
    assert all(each.live for _, each in nodes_of_probes(("chamber",))["probe-chamber"][1].items())
