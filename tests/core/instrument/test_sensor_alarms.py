"""Which alarm conditions of the sensor one reading shows."""

from collections.abc import Collection

import pytest

from rampwarden.core.instrument.sensor_alarms import sensor_findings
from rampwarden.core.model import Fault, Finding, Reading

JUNCTION_C = (-10.0, 50.0)


def judge_sensor(reading: Reading, range_fault: str | None = None, raised: Collection[str] = ()) -> dict[str, Finding]:
    return sensor_findings(reading, range_fault, JUNCTION_C, raised)


class TestTheSensor:
    def test_is_well_when_nothing_is_said_against_it(self) -> None:
        """With and without a junction, as EMF or as temperature."""
        assert judge_sensor(Reading(0.0, emf_uv=8138.0, junction_c=25.0)) == {}
        assert judge_sensor(Reading(0.0, temp_c=200.0)) == {}

    @pytest.mark.parametrize(
        ("fault", "alarm", "what"),
        [
            (Fault.OPEN, "sensor-open", "the thermocouple is open"),
            (Fault.SHORT_GROUND, "sensor-short", "the thermocouple is shorted to ground"),
            (Fault.SHORT_SUPPLY, "sensor-short", "the thermocouple is shorted to the supply"),
            (Fault.CONVERTER, "sensor-range", "the board's converter failed"),
        ],
    )
    def test_fault_of_the_board_is_its_own_alarm(self, fault: Fault, alarm: str, what: str) -> None:
        """In words a person can act on; there is no value to a fault."""
        assert judge_sensor(Reading(0.0, faults=(fault,))) == {alarm: Finding(None, None, None, what)}

    def test_without_its_junction_gives_no_temperature_at_all(self) -> None:
        """So a low alarm about the junction alone would not do."""
        found = judge_sensor(Reading(0.0, emf_uv=8138.0, faults=(Fault.JUNCTION,)))
        assert set(found) == {"junction-range", "sensor-range"}
        assert all(finding.what == "the reference junction's sensor failed" for finding in found.values())

    def test_may_have_every_fault_at_once(self) -> None:
        """Each alarm once."""
        found = judge_sensor(Reading(0.0, faults=tuple(Fault)))
        assert set(found) == {
            "sensor-open",
            "sensor-short",
            "sensor-range",
            "junction-range",
        }

    def test_out_of_range_says_what_was_read_in_its_own_unit(self) -> None:
        """µV where we convert, °C where the board did."""
        found = judge_sensor(Reading(0.0, emf_uv=70000.0, junction_c=25.0), "too much for type K")
        assert found == {"sensor-range": Finding(70000.0, None, "µV", "too much for type K")}
        found = judge_sensor(Reading(0.0, temp_c=3000.0), "too hot for type K")
        assert found == {"sensor-range": Finding(3000.0, None, "°C", "too hot for type K")}

    @pytest.mark.parametrize(
        ("junction_c", "limit"), [(-10.1, -10.0), (-10.0, None), (20.0, None), (50.0, None), (50.1, 50.0), (85.0, 50.0)]
    )
    def test_junction_has_a_usual_range(self, junction_c: float, limit: float | None) -> None:
        """The limit that is named is the one that is passed."""
        found = judge_sensor(Reading(0.0, emf_uv=0.0, junction_c=junction_c))
        if limit is None:
            assert found == {}
        else:
            what = f"reference junction at {junction_c} °C, usual -10 to 50"
            assert found == {"junction-range": Finding(junction_c, limit, "°C", what)}

    @pytest.mark.parametrize(("junction_c", "present"), [(48.0, False), (48.1, True), (-8.0, False), (-8.1, True)])
    def test_junction_alarm_once_raised_waits_for_the_deadband(self, junction_c: float, present: bool) -> None:
        """2 °C inside on both sides; the deadband never helps to raise it."""
        reading = Reading(0.0, emf_uv=0.0, junction_c=junction_c)
        assert (judge_sensor(reading, raised={"junction-range"}) != {}) is present
        assert judge_sensor(reading, raised={"sensor-range"}) == {}

    def test_junction_of_a_narrow_range_can_come_back(self) -> None:
        """A deadband wider than the range would keep the alarm for ever."""
        reading = Reading(0.0, emf_uv=0.0, junction_c=21.0)
        assert sensor_findings(reading, None, (20.0, 22.0), {"junction-range"}) == {}
