"""The report of one heat: what its page says, that it is well formed, and that nobody's text becomes its markup."""

import re
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest

from invented_heat import FAST, GOOD, SCHEDULE, mark, note, write_record
from rampwarden.report.assembling import edit
from rampwarden.report.course import read_course
from rampwarden.report.units import Scale
from rampwarden.report.verdict import Outcome, judge
from rampwarden.schedule_files import read_schedule
from rampwarden.spot.pyrometry import parse_band
from rampwarden.spot.spot_check import make_check, note_text
from replay_cases import CASES

HOSTILE = "<script>alert(1)</script> $x_1$ & \"quoted\" 'single' \x1b[31m"
VOID = {"meta", "br", "img", "link", "hr"}


class Page(HTMLParser):
    """Reads a page: its text, its tags, and whether every element is closed in order."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.open: list[str] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.words))


def page_of(record: Path, folder: Path, *, fahrenheit: bool = False) -> str:
    """Give the page of a record."""
    target = folder / "heat.html"
    edit([read_course(record)], Scale(fahrenheit), None).save(target)
    return target.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def fast_page(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The page of a recorded rehearsal that was too fast while drying."""
    folder = tmp_path_factory.mktemp("fast")
    case = CASES / "fast-while-drying"
    course = read_course(case / "heat.jsonl.gz", read_schedule(case / "schedule.toml")[0])
    edit([course], Scale(), None).save(folder / "heat.html")
    return (folder / "heat.html").read_text(encoding="utf-8")


def test_a_rule_that_was_broken_is_named_with_when_by_how_much_and_what_it_does(fast_page: str) -> None:
    text = Page(fast_page).text
    assert "This heat broke its schedule: ramp-high." in text
    assert re.search(r"ramp-high in oven drying: climbed 45 °C in 15 min at worst, where 25 °C in 15 min", text)
    assert re.search(r"\(\+80%\); from 0:2\d, \d+ min in all", text)
    assert "steam that splits a wall" in text
    assert "common practice, no source" in text


def test_every_part_of_the_report_is_there(fast_page: str) -> None:
    page = Page(fast_page)
    for heading in (
        "What was broken",
        "What the crucible is ready for",
        "What to look at before the next heat",
        "Segments",
        "Alarms",
        "What it comes to",
        "Sensor and record",
    ):
        assert heading in page.text
    for label in ("temperature, °C", "ramp, °C/h", "soaked, min", "ramp-high", "time since the watch began, h:mm"):
        assert label in page.text, "the drawing"
    assert page.text.count("hold 680 to 720 °C for 15 min") == 1


def test_the_page_needs_nothing_else_and_is_closed_in_order(fast_page: str) -> None:
    page = Page(fast_page)
    assert page.open == []
    assert not {"script", "link", "img", "iframe"} & set(page.tags)
    for name, value in page.attributes:
        assert not name.startswith("on")
        if name.endswith(("href", "src")):
            assert (value or "").startswith("#"), "only what stands in the page itself"


def test_the_drawing_is_well_formed_svg_with_a_line_for_what_was_measured(fast_page: str) -> None:
    svg = fast_page[fast_page.index("<svg") : fast_page.index("</svg>") + 6]
    root = ElementTree.fromstring(svg)
    assert root.tag.endswith("svg")
    longest = max(len(path.get("d", "")) for path in root.iter("{http://www.w3.org/2000/svg}path"))
    assert longest > 1000, "the measured line has many points"


def test_a_heat_that_was_kept_says_so_and_nothing_was_broken(tmp_path: Path) -> None:
    course = read_course(write_record(tmp_path / "a.jsonl", GOOD))
    verdict = judge(course, Scale())
    assert (verdict.outcome, verdict.headline) == (Outcome.KEPT, "This heat was kept within its schedule.")
    assert verdict.breaches == ()
    # Kept, and still heated damp: nothing dried it before it climbed.
    assert verdict.ready_for[0] == "Inspect it first: look at it and tap it cold before the next heat."
    assert any("damp" in each or "without a drying" in each for each in verdict.ready_for)


def test_a_heat_broken_off_is_no_kept_one(tmp_path: Path) -> None:
    verdict = judge(read_course(write_record(tmp_path / "a.jsonl", GOOD[:2])), Scale())
    assert verdict.outcome is Outcome.UNFINISHED
    assert any("not finished" in each for each in verdict.ready_for)


def test_only_a_broken_heat_adds_that_it_did_not_run_its_schedule_to_the_end(tmp_path: Path) -> None:
    """One that was merely broken off says just that, and says it once."""
    added = "and did not run it to the end"
    broken = Page(page_of(write_record(tmp_path / "a.jsonl", FAST[:4]), tmp_path)).text
    assert broken.count(added) == 1
    for course in (GOOD[:2], GOOD, FAST):
        assert added not in Page(page_of(write_record(tmp_path / "a.jsonl", course), tmp_path)).text


def test_the_uncertainty_is_told_for_the_soaks_that_were_reached_or_else_for_the_peak(tmp_path: Path) -> None:
    """A soak's own temperature is what the heat was for; one that never was reached is not told."""
    told = re.compile(r"uncertainty at (\d+) °C")
    whole = Page(page_of(write_record(tmp_path / "a.jsonl", GOOD), tmp_path)).text
    assert told.findall(whole) == ["800"]
    broken_off = Page(page_of(write_record(tmp_path / "a.jsonl", ((0.0, 20.0), (2000.0, 410.5))), tmp_path)).text
    assert told.findall(broken_off) == ["410"]


def test_a_gap_puts_the_verdict_in_doubt(tmp_path: Path) -> None:
    record = write_record(tmp_path / "a.jsonl", GOOD)
    lines = record.read_text().splitlines(keepends=True)
    del lines[300:360]
    record.write_text("".join(lines))
    verdict = judge(read_course(record), Scale())
    assert "in doubt" in verdict.headline
    assert any("Nobody watched for 5 min" in each for each in verdict.doubts)


def test_a_rehearsal_is_called_one(tmp_path: Path) -> None:
    verdict = judge(read_course(write_record(tmp_path / "a.jsonl", GOOD, rehearsal=True)), Scale())
    assert verdict.headline.startswith("This rehearsal")
    assert "no crucible has been heated" in verdict.ready_for[0]


def test_what_it_does_depends_on_the_class_of_the_crucible(tmp_path: Path) -> None:
    """Above steam, a silica-bearing body cracks at its inversion; the alarm is the same."""
    course = ((0.0, 450.0), (900.0, 500.0), (1300.0, 700.0), (2100.0, 801.0), (2600.0, 801.0), (3400.0, 698.0))
    said = {}
    for body in ("fireclay", "carbon-bonded-sic"):
        record = write_record(tmp_path / f"{body}.jsonl", course, schedule={**SCHEDULE, "crucible_class": body})
        said[body] = " ".join(judge(read_course(record), Scale()).breaches)
    assert "near 573 °C" in said["fireclay"]
    assert "one side heated before the other" in said["carbon-bonded-sic"]


def test_nobodys_text_becomes_markup_or_a_formula(tmp_path: Path) -> None:
    schedule = {**SCHEDULE, "title": HOSTILE, "segment": [{**SCHEDULE["segment"][0], "name": HOSTILE}]}  # type: ignore[index]
    inputs = [note(500.0, HOSTILE), mark(900.0, HOSTILE)]
    record = write_record(
        tmp_path / "a.jsonl", FAST, inputs, schedule, crucible=HOSTILE, metal=HOSTILE, started=HOSTILE
    )
    text = page_of(record, tmp_path)
    page = Page(text)
    assert "script" not in page.tags
    assert page.text.count("<script>alert(1)</script>") >= 5, "it stands there as what was written"
    assert "$x_1$" in page.text
    assert "\x1b" not in text


def test_a_dollar_in_a_segments_name_is_drawn_as_a_dollar(tmp_path: Path) -> None:
    schedule = {**SCHEDULE, "segment": [{**SCHEDULE["segment"][0], "name": "$x_1$"}]}  # type: ignore[index]
    text = page_of(write_record(tmp_path / "a.jsonl", GOOD[:2], schedule=schedule), tmp_path)
    assert ">1 $x_1$<" in text, "as an element's text; a formula would leave it in a comment only"


def test_fahrenheit_reaches_every_number(tmp_path: Path) -> None:
    text = Page(page_of(write_record(tmp_path / "a.jsonl", FAST), tmp_path, fahrenheit=True)).text
    assert "temperature, °F" in text
    assert "180 °F in 5 min" in text, "the limit of 100 °C"
    assert "1445 to 1499 °F" in text.replace("hold ", ""), "the band of 785 to 815 °C"
    assert "Below 392 °F it is steam" in text
    assert "°C" not in text


def test_notes_and_marks_are_numbered_and_spot_checks_judged(tmp_path: Path) -> None:
    check = make_check(700.0, parse_band("8-14um"), 0.95, 0.8, 20.0, around_given=False)
    told = note_text(check).replace("no thermocouple", "thermocouple 1.0 °C")
    inputs = [note(500.0, "gas to 0.04 bar"), mark(900.0, "lid-open"), note(3900.0, told)]
    text = Page(page_of(write_record(tmp_path / "a.jsonl", GOOD, inputs), tmp_path)).text
    assert re.search(r"1 0:08 note 1\d\d °C gas to 0.04 bar", text)
    assert re.search(r"2 0:15 mark \d+ °C lid-open", text)
    assert "spot check, corrected" in text
    assert re.search(r"doubt|neither", text)
    assert re.search(r"around 20 °C 7\d\d °C 78\d °C", text), "held against what the replay measured, not the note"


def test_the_same_record_gives_the_same_page_to_the_byte(tmp_path: Path) -> None:
    record = write_record(tmp_path / "a.jsonl", GOOD)
    assert page_of(record, tmp_path) == page_of(record, tmp_path)


@pytest.mark.long
def test_a_long_heat_is_thinned_out_and_keeps_its_extremes(tmp_path: Path) -> None:
    """Memory and page do not grow with the heat, and its worst moment stays on the page."""
    course = read_course(write_record(tmp_path / "a.jsonl", ((0.0, 20.0), (30_000.0, 300.0))))
    assert 1000 < len(course.samples) <= 3000
    assert sum(each.count for each in course.samples) == 6000 - course.set_aside
    assert max(each.high_c for each in course.samples) == pytest.approx(course.figures.peak_c, abs=0.05)
