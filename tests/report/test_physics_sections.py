"""The gas in a report: planned and taken, by weight where it was weighed, and when it was short."""

from pathlib import Path

from invented_heat import GOOD, mark, write_record
from rampwarden.core.model import WaterState
from rampwarden.report.course import read_course
from rampwarden.report.physics_sections import _water_section, physics_sections
from rampwarden.report.units import Scale

BOTTLE = {"full_kg": 9.0, "content_kg": 8.8, "steel_kg": 8.0, "diameter_m": 0.31}
GAS = {"bottle": BOTTLE, "ambient_c": 10.0, "liquid_c": 10.0, "needed_bar": 1.0, "burner_kw": {"*": 20.0}}
WEIGHED = {**GAS, "tare_kg": 8.0, "weighed": True}


def told(path: Path, gas: dict[str, object], *marks: dict[str, object]) -> tuple[str, tuple[tuple[str, ...], ...]]:
    """Give the gas section's sentences and rows."""
    course = read_course(write_record(path, GOOD, marks, parameters={"gas": gas}))
    [section] = physics_sections(course, Scale())
    assert section.heading == "The gas"
    assert section.table is not None
    assert section.table.headings == ("", "planned", "this heat")
    return " ".join(section.sentences), section.table.rows


def test_planned_and_taken_stand_side_by_side(tmp_path: Path) -> None:
    """775 °C at 80 % of 20 °C/min and five minutes of soak are planned; the heat took longer."""
    sentences, rows = told(tmp_path / "a.jsonl", GAS)
    assert rows[0][1:] == ("53 min", "1 h 10 min")
    assert rows[1][1] == "1.38 kg"
    assert rows[1][2] == "1.81 kg by the burner's power"
    assert sentences.startswith("About 7.0 kg are left by reckoning.")
    assert "Weigh the bottle" in sentences
    assert "down to" not in sentences


def test_what_was_weighed_outranks_the_burners_power(tmp_path: Path) -> None:
    """Both are said, and nobody is asked to weigh."""
    sentences, rows = told(tmp_path / "a.jsonl", WEIGHED, mark(4290.0, "bottle weighs 14.6 kg"))
    assert rows[1][2].startswith("2.20 kg by weight (")
    assert rows[1][2].endswith("kg by the burner's power)")
    assert "Weigh the bottle" not in sentences


def test_a_bottle_that_fell_short_or_was_changed_is_told(tmp_path: Path) -> None:
    """From when on, and down to what."""
    burner = {**GAS, "burner_kw": {"*": 60.0}}
    sentences, _ = told(tmp_path / "a.jsonl", burner, mark(3600.0, "bottle-changed"))
    assert "The bottle was changed once." in sentences
    assert "From 0:" in sentences
    assert "bar, below the 1 bar the burner needs." in sentences


def test_nothing_reckoned_nothing_printed(tmp_path: Path) -> None:
    """A heat as it always was."""
    course = read_course(write_record(tmp_path / "a.jsonl", GOOD))
    assert list(physics_sections(course, Scale())) == []


def test_the_water_a_pot_showed_and_its_weights_stand_side_by_side() -> None:
    """What was not told or not seen is said to be so."""
    seen = _water_section(WaterState(4928.0, 0.31, 6128.0, 5.15, 5.004))
    assert seen.table is not None
    assert seen.table.rows == (
        ("its climb slowed down", "from 1:22 on, the climb down to 31% of its pace before"),
        ("and recovered", "from 1:42 on"),
        ("weighed before", "5.150 kg"),
        ("weighed after", "5.004 kg"),
        ("lost", "146 g"),
    )
    assert "only its weight proves a pot dry" in seen.sentences[0]
    missed = _water_section(WaterState(4928.0, 0.31, None, missed=True))
    assert missed.table is not None
    assert missed.table.rows[1:] == (
        ("and recovered", "not seen: not shown to be dry"),
        ("weighed before", "not told"),
        ("weighed after", "not told"),
    )
    weighed = _water_section(WaterState(None, None, None, 5.15, 5.15))
    assert weighed.table is not None
    assert weighed.table.rows[0] == ("its climb", "showed no water leave, or was not seen whole")
