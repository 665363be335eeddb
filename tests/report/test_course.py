"""What a report knows of a record: which readings the board converted itself, and which it could not make."""

from pathlib import Path

from invented_heat import GOOD, Line, write_record
from rampwarden.report.course import read_course


def test_only_readings_that_came_as_a_temperature_count_as_converted_by_the_board(tmp_path: Path) -> None:
    """One with a fault brings neither EMF nor temperature: nobody converted it."""
    converted: list[Line] = [
        {"kind": "reading", "time_s": at_s, "temp_c": 20.0 + 0.195 * at_s} for at_s in (502.0, 507.0)
    ]
    faulty: Line = {"kind": "reading", "time_s": 512.0, "junction_c": 25.0, "faults": ["open"]}
    course = read_course(write_record(tmp_path / "a.jsonl", GOOD, [*converted, faulty]))
    assert course.converted_by_board == 2
    assert dict(course.faults) == {"open": 1}
