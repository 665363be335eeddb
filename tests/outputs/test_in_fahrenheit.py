"""Sentences in °F: every way in which the watch words a temperature, a difference and a rate."""

import gzip
import json
import re
from pathlib import Path

import pytest

from rampwarden.outputs.in_fahrenheit import in_fahrenheit

ROOT = Path(__file__).resolve().parents[2]
# Each as it is said, and below it in °F.
SAID = [
    (said, in_f)
    for said, in_f in (
        pair.split("\n")
        for pair in """
26 °C within 15 min, limit 25
47 °F within 15 min, limit 45

26 °C within 15 min across the corner, limit 7.5
47 °F within 15 min across the corner, limit 13.5

40 °C while nobody watched for 9 min, limit 25 within 15 min
72 °F while nobody watched for 9 min, limit 45 within 15 min

130 ± 9.1 °C/h, may be over the limit of 100
234 ± 16.4 °F/h, may be over the limit of 180

3.2 °C/min over 5 min, at least 8 wanted
5.8 °F/min over 5 min, at least 14 wanted

+61 °C/h (at most +100)
+110 °F/h (at most +180)

-5 °C/min (allowed -10 to +20)
-9 °F/min (allowed -18 to +36)

+3.0 became -2.0 °C/min
+5.4 became -3.6 °F/min

at most 25 °C in 15 min and 6 °C in 1 min
at most 45 °F in 15 min and 11 °F in 1 min

25 °C / 15 min
45 °F / 15 min

25 °C/15 min
45 °F/15 min

the lid was lifted: 18 °C fell at once
the lid was lifted: 32 °F fell at once

it shows 40 °C more than before
it shows 72 °F more than before

60 °C short of where the ramp before would have led
108 °F short of where the ramp before would have led

12 °C above its corridor
22 °F above its corridor

readings scatter by 4.0 °C within seconds, 0.5 is usual
readings scatter by 7.2 °F within seconds, 0.9 is usual

the soak sagged by 20 °C within 10 min: likely
the soak sagged by 36 °F within 10 min: likely

since 0:39 h it alone shows 60 K less, within 3 K
since 0:39 h it alone shows 108 °F less, within 5.4 °F

54 K climbed in 5 min of 80
97 °F climbed in 5 min of 144

by the chamber probe, ± 12 °C; not guarded: 6 °C / 1 min
by the chamber probe, ± 22 °F; not guarded: 11 °F / 1 min

1230 °C, ceiling 1220
2246 °F, ceiling 2228

850 °C and +3.0 °C/min: ceiling 900 passed in about 9 min
1562 °F and +5.4 °F/min: ceiling 1652 passed in about 9 min

160 °C, band 165 to 195
320 °F, band 329 to 383

300 °C, 40 below what it was 9 min ago
572 °F, 72 below what it was 9 min ago

-5 °C and falling while the heat is on, 25 below its own junction
23 °F and falling while the heat is on, 45 below its own junction

reference junction at 71.5 °C, usual 0 to 60
reference junction at 160.7 °F, usual 32 to 140

612 ± 12 °C; no cautions ahead
1134 ± 22 °F; no cautions ahead

it reads 612 °C, 5 from what was guessed
it reads 1134 °F, 9 from what was guessed

hold 165 to 195 °C for 30 min
hold 329 to 383 °F for 30 min

the chamber is at 600 °C, the pot probe shows 400 °C
the chamber is at 1112 °F, the pot probe shows 752 °F

Overheated (from 3 h to 4 h, 1230 °C, limit 1220 °C)
Overheated (from 3 h to 4 h, 2246 °F, limit 2228 °F)

Climbed too fast (from 3 h to 4 h, 45 °C, limit 25 °C)
Climbed too fast (from 3 h to 4 h, 81 °F, limit 45 °F)

type K: 5000 µV
type K: 5000 µV

record cannot be written
record cannot be written

… °C/h · drying
… °F/h · drying

165-195 °C for 30 min
329-383 °F for 30 min
""".strip().split("\n\n")
    )
]


@pytest.mark.parametrize(("celsius", "fahrenheit"), SAID, ids=[said[:40] for said, _ in SAID])
def test_each_figure_is_turned_as_what_it_is(celsius: str, fahrenheit: str) -> None:
    """A difference is never shifted, a temperature always; what was turned is not turned again."""
    assert in_fahrenheit(celsius) == fahrenheit
    assert in_fahrenheit(fahrenheit) == fahrenheit


def said_in_recorded_heats() -> set[str]:
    """Give every sentence of the recorded heats that has a temperature."""
    texts: set[str] = set()
    files = [*ROOT.glob("replay_logs/*/expected.events.jsonl"), *ROOT.glob("tests/old_records/*/expected*.jsonl*")]
    for file in files:
        data = gzip.decompress(file.read_bytes()) if file.suffix == ".gz" else file.read_bytes()
        for line in data.splitlines():
            event = json.loads(line)
            if event.get("event") not in ("note", "mark", "heat-started"):
                texts.add(event.get("text", ""))
    return {text for text in texts if "°C" in text or re.search(r"\d K\b", text)}


def shape(text: str) -> str:
    """Give a sentence without its figures: what a rule has to know."""
    return re.sub(r"[-+−]?\d+(?:\.\d+)?", "#", text)


def test_no_sentence_of_the_recorded_heats_keeps_a_figure_in_celsius() -> None:
    """Nor a limit beside one that was turned: of each, every figure that has a unit or a limit's name has changed."""
    texts = said_in_recorded_heats()
    assert len({shape(text) for text in texts}) > 60
    for text in texts:
        turned = in_fahrenheit(text)
        assert "°C" not in turned
        assert not re.search(r"\d K\b", turned)
        for name in ("limit", "limit of", "ceiling", "band", "usual", "at least"):
            for before, after in zip(
                re.findall(rf"{name} (-?\d+)", text), re.findall(rf"{name} (-?\d+)", turned), strict=True
            ):
                assert before == "0" or before != after, text
