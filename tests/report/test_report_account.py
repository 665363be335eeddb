"""The report says of the pot what the account says, and nothing beside it: records in, words out."""

import re
from pathlib import Path

import pytest

from invented_heat import OVEN, write_record
from rampwarden.core.pot import Claim, ClaimName, ClaimShown, PotAccount, readiness_sentence
from rampwarden.records import HeatFigures
from rampwarden.report.assembling import edit
from rampwarden.report.course import Course, read_course
from rampwarden.report.units import Scale
from rampwarden.report.verdict import HeatVerdict, judge

IN_OVEN = ((0.0, 20.0), (1200.0, 166.0), (3600.0, 166.0))
OLD_WORDS = ("Dried and fired", "later-heat schedule will do", "For nothing before", "dry while it is in use")


def _told(record: Path) -> tuple[Course, HeatVerdict, PotAccount]:
    course = read_course(record)
    account = course.figures.account
    assert account is not None
    return course, judge(course, Scale()), account


def _claim(account: PotAccount, name: ClaimName) -> Claim:
    return account.claim(name)


def _whole(course: Course) -> str:
    edition = edit([course], Scale(), None)
    parts = [each for section in edition.sections for each in section.sentences]
    parts += [cell for section in edition.sections if section.table for row in section.table.rows for cell in row]
    return " ".join([*edition.headlines, *parts])


def _frozen(record: Path, since_s: float) -> Path:
    """Repeat the reading of `since_s` to the end of the record."""
    lines = record.read_text(encoding="utf-8").splitlines()
    held = ""
    for number, line in enumerate(lines):
        found = re.search(r'"time_s": ([0-9.]+), ("emf_uv": .*)', line)
        if found and float(found[1]) >= since_s:
            held = held or found[2]
            lines[number] = line.replace(found[2], held)
    record.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return record


def _with_sparks(record: Path, at_s: float, emf_uv: float) -> Path:
    """Put three readings of a spark into a record from `at_s` on."""
    lines = record.read_text(encoding="utf-8").splitlines()
    wanted = [f'"time_s": {at_s + 5.0 * number}, ' for number in range(3)]
    for number, line in enumerate(lines):
        if any(time in line for time in wanted):
            lines[number] = re.sub(r'"emf_uv": -?[0-9.]+', f'"emf_uv": {emf_uv}', line)
    record.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return record


def test_a_reading_frozen_in_the_drying_band_dries_and_fires_nothing(tmp_path: Path) -> None:
    course, verdict, account = _told(_frozen(write_record(tmp_path / "a.jsonl", IN_OVEN, schedule=OVEN), 1205.0))
    moving = _told(write_record(tmp_path / "b.jsonl", IN_OVEN, schedule=OVEN))[2]
    stood, dried = _claim(account, ClaimName.DRIED).evidence, _claim(moving, ClaimName.DRIED).evidence
    assert stood is not None
    assert dried is not None
    assert stood.measure is not None
    assert dried.measure is not None
    assert stood.measure < 0.5 * dried.measure, "time that stood still is not counted as drying"
    assert _claim(account, ClaimName.FIRED).shown is ClaimShown.NOT_SHOWN
    assert "in doubt" in verdict.headline
    assert not any(old in _whole(course) for old in OLD_WORDS)


def test_three_sparks_fire_no_pot(tmp_path: Path) -> None:
    record = _with_sparks(write_record(tmp_path / "a.jsonl", IN_OVEN, schedule=OVEN), 2000.0, 28_000.0)
    course, verdict, account = _told(record)
    assert _claim(account, ClaimName.FIRED).shown is ClaimShown.NOT_SHOWN
    assert not any(old in _whole(course) for old in OLD_WORDS)
    assert not any("later heat" in each for each in verdict.ready_for)


def test_an_overheated_pot_is_looked_at_first_and_nothing_says_otherwise(tmp_path: Path) -> None:
    up = {"name": "up", "kind": "ramp", "to": "1200 C", "ceiling": "1220 C"}
    hold = {"name": "hold", "kind": "soak", "at": "1200 C", "hold": "30 min", "ceiling": "1220 C"}
    schedule = {**OVEN, "segment": [up, hold]}
    record = write_record(tmp_path / "a.jsonl", ((0.0, 20.0), (7200.0, 1284.0), (7700.0, 1284.0)), schedule=schedule)
    course, verdict, account = _told(record)
    assert _claim(account, ClaimName.OVERHEATED).shown is ClaimShown.SHOWN
    assert verdict.ready_for[0].startswith("Inspect it first")
    text = _whole(course)
    assert text.count("Inspect it first") == 2  # for the next shift, and as the finding
    assert "Cooling not seen" in text
    assert not any(old in text for old in (*OLD_WORDS, "Ready for a later heat", "Nothing in particular"))


@pytest.mark.parametrize("name", list(ClaimName))
def test_every_claim_stands_in_the_report_with_its_evidence(name: ClaimName, tmp_path: Path) -> None:
    course, _, account = _told(write_record(tmp_path / "a.jsonl", IN_OVEN, schedule=OVEN))
    section = next(
        each for each in edit([course], Scale(), None).sections if each.heading == "What was seen of the pot"
    )
    assert section.table is not None
    told = [each for each in account.claims if each.name is not ClaimName.SOAKED or account.soak_asked]
    assert len(section.table.rows) == len(told)
    if name in [each.name for each in told]:
        row = section.table.rows[[each.name for each in told].index(name)]
        assert ("±" in row[5]) == (account.claim(name).evidence is not None)


def test_figures_kept_before_there_were_accounts_have_none(tmp_path: Path) -> None:
    """And the readiness that is said is the one of the figures."""
    course, verdict, _ = _told(write_record(tmp_path / "a.jsonl", IN_OVEN, schedule=OVEN))
    fields = reversed(HeatFigures.__struct_fields__)
    kept = dict(zip(fields, reversed(HeatFigures.__struct_defaults__), strict=False))
    assert (kept["account"], kept["readiness"], kept["physics"]) == (None, None, None)
    assert course.figures.readiness is not None
    assert verdict.ready_for[0] == readiness_sentence(course.figures.readiness)
