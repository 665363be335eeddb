"""What a thumb does on the page: a phone of 390 by 844 points with touch, in a real Chromium, and one heat for all."""

from collections.abc import Iterator

import pytest

pytest.importorskip("playwright.sync_api", reason="no driver: pip install playwright")

from playwright.sync_api import Browser
from tests.page.browser import CHROMIUM, OUTPUT, Visitor, open_browser, visit
from tests.page.served_page import SCHEDULE, Heat, Served, wait_until

from rampwarden.core.model import (
    AlarmState,
    Command,
    CommandName,
    OpenQuestion,
    PotReadiness,
    ProbeStatus,
    Quality,
)
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.core.usual_marks import USUAL_MARKS, MarkValue

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium: see .ci/need-packages")

PHONE = {"width": 390, "height": 844}
CARRIED = Schedule(
    "A first heat",
    (*SCHEDULE.segments, Segment("oven to furnace", SegmentKind.TRANSFER, within_s=1200.0)),
)


@pytest.fixture(scope="module")
def heat() -> Iterator[Served]:
    """One heat with a transfer to come and two probes beside the pot's."""
    served = Served(heat=Heat(schedule=CARRIED))
    for minute in range(60):
        served.heat.follow(20.0 + minute, 60.0)
        served.heat.probes = (
            ProbeStatus("chamber", "chamber", 30.0 + 1.2 * minute, Quality.GOOD, served.heat.time_s, 3.0),
            ProbeStatus("bottle", "bottle", 18.0 - 0.1 * minute, Quality.GOOD, served.heat.time_s, 2.0),
        )
        served.heat.show()
    yield served
    served.close()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for all."""
    with open_browser() as opened:
        yield opened


@pytest.fixture(scope="module")
def thumb(browser: Browser, heat: Served) -> Iterator[Visitor]:
    """Somebody with a phone, who may act."""
    with visit(browser, heat.url, viewport=PHONE, has_touch=True, is_mobile=True) as visitor:
        yield visitor


@pytest.fixture(autouse=True)
def afresh(heat: Served, thumb: Visitor) -> None:
    """Nothing was heard, nothing stands, and the page is at its top."""
    heat.heard.clear()
    heat.heat.questions = ()
    for name in [each.alarm for each in heat.heat.alarms]:
        heat.heat.alarm(name, AlarmState.NORMAL)
    heat.heat.read(79.0)
    thumb.page.evaluate("scrollTo(0, 0)")


def words(heat: Served) -> list[tuple[CommandName, str]]:
    """What the watch was told."""
    return [(each.command, each.text) for each in heat.heard if isinstance(each, Command)]


def tap(thumb: Visitor, what: str) -> None:
    thumb.page.tap(what, timeout=10_000)


def go_away(thumb: Visitor) -> None:
    """Put the phone into the pocket: what is held back is told at once, for a page out of sight keeps no time."""
    thumb.until(lambda: thumb.is_shown("held"), "an order held back")
    thumb.page.evaluate("dispatchEvent(new Event('pagehide'))")


def test_what_is_done_at_once_is_within_the_thumbs_reach_wherever_the_page_is(heat: Served, thumb: Visitor) -> None:
    """Acknowledge, bottle, transfer, note; nothing runs out at the side, and the first target needs no confirmation."""
    heat.heat.alarm("ramp-high", text="26 °C within 15 min, limit 25")
    thumb.until(lambda: thumb.page.locator("#bar-acknowledge:enabled").count() == 1, "something to acknowledge")
    for scrolled in ("0", "document.body.scrollHeight / 2", "document.body.scrollHeight"):
        thumb.page.evaluate(f"scrollTo(0, {scrolled})")
        for name in ("bar-acknowledge", "bar-bottle", "bar-transfer", "bar-note"):
            box = thumb.page.locator(f"#{name}").bounding_box()
            assert box is not None
            assert box["y"] > PHONE["height"] / 2
            assert box["y"] + box["height"] <= PHONE["height"]
            assert box["height"] >= 64
            assert box["x"] + box["width"] <= PHONE["width"]
    assert thumb.page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    tap(thumb, "#bar-acknowledge")
    tap(thumb, "#bar-bottle")
    wait_until(lambda: len(heat.heard) == 2, "both")
    assert words(heat) == [(CommandName.ACKNOWLEDGE, ""), (CommandName.MARK, "bottle-changed")]
    tap(thumb, "#bar-note")
    assert thumb.page.evaluate("document.activeElement.id") == "note"


def test_what_changes_the_heat_is_asked_about_and_can_be_undone(heat: Served, thumb: Visitor) -> None:
    """One tap moves nothing; after yes there is a while to take it back, before the watch is told at all."""
    tap(thumb, "#bar-transfer")
    assert "ramp alarms rest" in thumb.text("sure-why")
    tap(thumb, "#sure button[value=no]")
    assert not thumb.is_shown("held")
    tap(thumb, "#bar-transfer")
    tap(thumb, "#sure-yes")
    thumb.until(lambda: thumb.text("held-words").startswith("Pot leaves the oven in "), "the order held back")
    tap(thumb, "#held-undo")
    thumb.until(lambda: not thumb.is_shown("held"), "taken back")
    tap(thumb, "#bar-transfer")
    tap(thumb, "#sure-yes")
    assert heat.heard == []
    go_away(thumb)
    wait_until(lambda: heat.heard, "the mark")
    assert words(heat) == [(CommandName.MARK, "transfer")]


def test_a_segment_is_ended_with_a_reason_and_not_without(heat: Served, thumb: Visitor) -> None:
    """The reason goes with the order."""
    tap(thumb, "#skip-segment")
    tap(thumb, "#sure-yes")
    assert thumb.page.evaluate("document.getElementById('sure').open"), "no reason, no end"
    thumb.page.fill("#reason", "weighed dry")
    tap(thumb, "#sure-yes")
    go_away(thumb)
    wait_until(lambda: heat.heard, "the order")
    assert words(heat) == [(CommandName.SKIP_SEGMENT, "weighed dry")]


def test_a_question_is_answered_by_its_buttons_or_in_words_and_an_order_is_held_back(
    heat: Served, thumb: Visitor
) -> None:
    """Below the alarms, each with the answers it offers."""
    meant = ("go on with 'oven to furnace'", "leave the schedule as it is")
    heat.heat.questions = (
        OpenQuestion(1, "Is there mist?", ("mist seen", "mist gone"), 60.0),
        OpenQuestion(2, "What is meant?", meant, 90.0, only_these=True),
        OpenQuestion(3, "Tongs dry and at hand", ("done", "not needed"), 0.0, is_check=True),
    )
    heat.heat.show()
    thumb.until(lambda: thumb.page.locator(".question").count() == 3, "three questions")
    assert thumb.page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    OUTPUT.mkdir(parents=True, exist_ok=True)
    (OUTPUT / "questions-phone.png").write_bytes(thumb.page.screenshot())
    tap(thumb, "[data-answer='mist gone']")
    thumb.page.fill("[data-number='1'] input", "only a little")
    tap(thumb, "[data-number='1'] button[type=submit]")
    wait_until(lambda: len(heat.heard) == 2, "two answers")
    assert thumb.text("checks-left") == "1"
    assert not thumb.page.locator("[data-number='3']").is_visible()  # folded away: the temperature stands below it
    tap(thumb, "#checks summary")
    assert thumb.page.locator("[data-number='3']").is_visible()
    assert thumb.page.locator("[data-number='2'] input:visible, [data-number='3'] input:visible").count() == 0
    tap(thumb, f'[data-answer="{meant[0]}"]')
    assert thumb.is_shown("held")
    go_away(thumb)
    wait_until(lambda: len(heat.heard) == 3, "the order")
    tap(thumb, "[data-number='3'] [data-answer='done']")
    wait_until(lambda: len(heat.heard) == 4, "the tick")
    assert [(each.text, each.question) for each in heat.heard if isinstance(each, Command)] == [
        ("mist gone", 1),
        ("only a little", 1),
        (meant[0], 2),
        ("done", 3),
    ]
    heat.heat.questions = ()
    heat.heat.show()
    thumb.until(lambda: not thumb.is_shown("questions") and not thumb.is_shown("checks"), "no question")


def test_marks_with_a_value_and_a_spot_check_reach_the_record_or_say_what_is_wrong(
    heat: Served, thumb: Visitor
) -> None:
    """The same marks as everywhere; the check is corrected, held against the thermocouple and written as a note."""
    offered = thumb.page.locator("#valued option").evaluate_all("all => all.map((each) => each.value)")
    assert set(offered) == {mark.name for mark in USUAL_MARKS if mark.value is not MarkValue.NOTHING}
    thumb.page.select_option("#valued", "gauge")
    thumb.page.fill("#value", "1,200 mbar")
    tap(thumb, "#value-form button")
    thumb.until(lambda: "may mean 1.2 mbar or 1200 mbar" in thumb.text("answer"), "the refusal")
    # The browser itself complains of every answer that is a refusal.
    assert "400" in thumb.complaints.pop()
    thumb.page.fill("#value", "1.2 bar")
    tap(thumb, "#value-form button")
    thumb.until_says("answer", "Marked: gauge 1.2 bar.")
    thumb.page.fill("#spot-reading", "90")
    tap(thumb, "#spot-form button")
    thumb.until(lambda: "than the thermocouple" in thumb.text("answer"), "the check")
    assert words(heat)[0] == (CommandName.MARK, "gauge 1.2 bar")
    assert words(heat)[1][1].startswith("spot 90.0 °C set to 0.950, surface 0.800, 8-14um, around 20.0 °C: ")
    assert words(heat)[1][1].endswith("thermocouple 79.0 °C")


def test_degrees_fahrenheit_are_in_every_sentence_and_peoples_words_stay(heat: Served, thumb: Visitor) -> None:
    """A limit is scaled, a temperature shifted; a note is nobody's to change."""
    heat.heat.alarm("ramp-high", text="26 °C within 15 min, limit 25")
    heat.heat.note("oven at 100 °C by its dial")
    tap(thumb, "#unit")
    thumb.until(lambda: "47 °F within 15 min, limit 45" in thumb.text("alarm-list"), "the alarm in °F")
    assert "Heat to 356 °F, at most 45 °F in 15 min" in thumb.text("aim")
    assert "174" in thumb.text("temp")
    assert "oven at 100 °C by its dial" in thumb.text("happenings")
    assert "°C" not in thumb.text("beside")
    tap(thumb, "#unit")
    thumb.until(lambda: "26 °C within 15 min" in thumb.text("alarm-list"), "and back")


def test_other_probes_have_a_lane_each_and_lines_that_differ_without_colour(heat: Served, thumb: Visitor) -> None:
    """The line before the name is that of the course."""
    rows = thumb.page.locator("#beside li")
    thumb.until(lambda: rows.count() == 2, "two lanes")
    assert "chamber 101 °C ± 3 °C22 °C above" in (rows.nth(0).text_content() or "")
    assert "above" not in (rows.nth(1).text_content() or ""), "a bottle is not compared with a pot"
    dashes = thumb.page.locator("#beside line").evaluate_all(
        "all => all.map((x) => x.getAttribute('stroke-dasharray'))"
    )
    assert len(set(dashes)) == 2


def test_that_nothing_is_known_of_the_present_is_the_largest_on_every_size(heat: Served, thumb: Visitor) -> None:
    """Nothing below says that all is well; the last temperature is smaller than the word that it is old."""
    heat.heat.fall_silent(60.0)
    thumb.until(lambda: thumb.is_shown("silence"), "no data")
    OUTPUT.mkdir(parents=True, exist_ok=True)
    for name, width, height in (("phone", 390, 844), ("tablet", 1024, 768), ("television", 1920, 1080)):
        thumb.page.set_viewport_size({"width": width, "height": height})
        sizes = thumb.page.evaluate(
            """() => [...document.querySelectorAll('body *')]
              .filter((each) => each.checkVisibility())
              .filter((each) => [...each.childNodes].some((node) => node.nodeType === 3 && node.data.trim()))
              .map((each) => [parseFloat(getComputedStyle(each).fontSize), each.id])"""
        )
        largest = max(size for size, _ in sizes)
        assert [each for size, each in sizes if size == largest] == ["silence-word"], name
        assert not thumb.is_shown("calm")
        assert thumb.page.evaluate("document.documentElement.scrollWidth") <= width
        (OUTPUT / f"silence-{name}.png").write_bytes(thumb.page.screenshot())
    thumb.page.set_viewport_size(PHONE)


def test_at_the_end_mass_and_look_are_asked_for_and_kept(heat: Served, thumb: Visitor) -> None:
    """As marks of the heat, from where the register takes them."""
    assert not thumb.is_shown("afterwards")
    heat.heat.end(PotReadiness("ready-for-a-later-heat", "Ready for a later heat.", ()))
    thumb.until(lambda: thumb.is_shown("afterwards"), "the questions")
    thumb.page.fill("#pot-weighs", "3.38")
    thumb.page.fill("#pot-looks", "even ring")
    tap(thumb, "#afterwards button")
    wait_until(lambda: len(heat.heard) == 2, "both")
    assert words(heat) == [(CommandName.MARK, "pot-weighs 3.38 kg"), (CommandName.MARK, "pot-looks even ring")]
    thumb.until_says("afterwards-said", "Kept with the heat: 3.38, even ring")
