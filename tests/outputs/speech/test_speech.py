"""The voice as an output: ranked, one thing at a time, silent when acknowledged, and never the watch's trouble."""

import shutil
import sys
import threading
import wave
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
from msgspec.structs import replace
from tests.outputs.mqtt.broker import wait_until

from pictured_heat import PicturedHeat
from rampwarden.core.model import AlarmState, Event, EventName, HeatStatus, Notice, NoticeName, Priority
from rampwarden.outputs.speech import Speech, Voice, found_command


class HeldVoice:
    """Speaks until it is let go; keeps what it was given, and how much of it at once."""

    def __init__(self) -> None:
        self.said: list[str] = []
        self.broken_off: list[str] = []
        self.at_once = self.most_at_once = 0
        self.go_on = threading.Semaphore(0)
        self.trouble = ""

    def speak(self, text: str, hushed: threading.Event) -> str:
        self.said.append(text)
        self.at_once += 1
        self.most_at_once = max(self.most_at_once, self.at_once)
        while not self.go_on.acquire(timeout=0.01):
            if hushed.is_set():
                self.broken_off.append(text)
                break
        self.at_once -= 1
        return self.trouble


class Bench:
    """A speech with a voice that is held, a clock that is set, and the heat's status."""

    def __init__(self) -> None:
        self.voice, self.now_s = HeldVoice(), 0.0
        self.heard: list[Notice] = []
        self.speech = Speech(self.voice, clock=lambda: self.now_s)  # type: ignore[arg-type]
        self.speech.show(status())
        self.speech.start(self.heard.append)

    def alarm(self, name: str, priority: Priority, state: AlarmState = AlarmState.UNACKNOWLEDGED) -> None:
        self.speech.tell(Event(1.0, EventName.ALARM, alarm=name, state=state, priority=priority))

    def said(self, *texts: str) -> None:
        wait_until(lambda: self.voice.said == list(texts), f"{texts}, not {self.voice.said}")


def status() -> HeatStatus:
    return replace(PicturedHeat().climb(21.0, 10.0).monitor.status(), temp_c=610.0, ramp=None, alarms=())


@pytest.fixture
def bench() -> Iterator[Bench]:
    made = Bench()
    with closing(made.speech):
        yield made


def test_the_most_urgent_is_said_first_and_nothing_at_once(bench: Bench) -> None:
    """Alarms, what was asked, a segment: in this order; a high alarm breaks in, and what it broke comes back."""
    bench.speech.tell(Event(1.0, EventName.SEGMENT_STARTED, segment="drying", segment_number=1))
    bench.said("Segment one: drying.")
    bench.speech.ask()
    bench.alarm("junction-range", Priority.LOW)
    bench.said("Segment one: drying.", "Junction range.")
    bench.alarm("ramp-high", Priority.HIGH)
    bench.said("Segment one: drying.", "Junction range.", "Ramp high.")
    assert bench.voice.broken_off == ["Segment one: drying.", "Junction range."]
    for _ in range(4):
        bench.voice.go_on.release()
    bench.said(
        "Segment one: drying.",
        "Junction range.",
        "Ramp high.",
        "Junction range.",
        "six hundred ten, limit one hundred",
        "Segment one: drying.",
    )
    assert bench.voice.most_at_once == 1


def test_an_alarm_is_said_again_as_the_bell_rings_again(bench: Bench) -> None:
    """A high one after half a minute; one that rings once is said once."""
    bench.alarm("ramp-high", Priority.HIGH)
    bench.voice.go_on.release()
    bench.alarm("junction-range", Priority.LOW)
    bench.voice.go_on.release()
    bench.said("Ramp high.", "Junction range.")
    bench.now_s = 29.0
    bench.speech.show(status())
    bench.now_s = 31.0
    bench.speech.show(status())
    bench.said("Ramp high.", "Junction range.", "Ramp high.")


@pytest.mark.parametrize("state", [AlarmState.ACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED, AlarmState.SHELVED])
def test_what_is_acknowledged_or_over_is_not_said_to_its_end(bench: Bench, state: AlarmState) -> None:
    """Somebody is there, or there is nothing to do any more."""
    bench.alarm("ramp-high", Priority.HIGH)
    bench.said("Ramp high.")
    bench.alarm("ramp-high", Priority.HIGH, state)
    wait_until(lambda: bench.voice.broken_off == ["Ramp high."], "silence")
    bench.now_s = 1000.0
    bench.speech.show(status())
    bench.speech.ask()
    bench.said("Ramp high.", "six hundred ten, limit one hundred")


def test_a_voice_that_fails_is_told_once_and_again_after_it_has_spoken(bench: Bench) -> None:
    """Each failure of the same kind would ring by itself."""
    bench.voice.trouble = "espeak-ng ended with 1"
    for count in (1, 2):
        bench.speech.ask()
        bench.voice.go_on.release()
        wait_until(lambda: len(bench.voice.said) == count, "the state")  # noqa: B023 (waited for here)
    wait_until(lambda: bench.heard, "the notice")
    bench.voice.trouble = ""
    bench.speech.ask()
    bench.voice.go_on.release()
    wait_until(lambda: len(bench.voice.said) == 3, "the state")
    assert [(each.notice, each.text) for each in bench.heard] == [
        (NoticeName.OUTPUT_FAILING, "the voice is silent: espeak-ng ended with 1")
    ]


def program(folder: Path, text: str) -> list[str]:
    path = folder / "speaker.py"
    path.write_text(text)
    return [sys.executable, str(path)]


def spoken(command: list[str], *, spare_s: float = 30.0, hush: Callable[[threading.Event], None] | None = None) -> str:
    hushed = threading.Event()
    if hush is not None:
        hush(hushed)
    return Voice(command, spare_s).speak("six hundred ten", hushed)


def test_a_program_gets_the_text_as_its_last_argument_and_no_input(tmp_path: Path) -> None:
    """So any command will do."""
    said = tmp_path / "said"
    command = program(tmp_path, f"import sys; open({str(said)!r}, 'w').write(sys.argv[-1] + repr(sys.stdin.read()))")
    assert spoken(command) == ""
    assert said.read_text() == "six hundred ten''"


def test_a_program_that_dies_is_missing_or_hangs_says_what_it_was(tmp_path: Path) -> None:
    """In words; one that hangs is ended with whatever it has started."""
    assert spoken(program(tmp_path, "raise SystemExit(3)")).endswith("ended with 3")
    assert spoken([str(tmp_path / "none")]).endswith("No such file or directory")
    child = tmp_path / "child"
    hanging = (
        "import os, signal, subprocess, sys, time\n"
        "signal.signal(signal.SIGTERM, signal.SIG_IGN)\n"
        "child = subprocess.Popen([sys.executable, '-c', 'import time; time.sleep(600)'])\n"
        f"open({str(child)!r}, 'w').write(str(child.pid))\n"
        "time.sleep(600)\n"
    )
    trouble = spoken(program(tmp_path, hanging), spare_s=5.0)
    assert "was stopped" in trouble
    wait_until(lambda: not Path(f"/proc/{child.read_text()}/cmdline").is_file() or _is_gone(child), "the child ended")


def _is_gone(child: Path) -> bool:
    return Path(f"/proc/{child.read_text()}/stat").read_text().rpartition(")")[2].split()[0] == "Z"


def test_hushed_it_stops_in_the_middle(tmp_path: Path) -> None:
    """And that is no trouble."""
    assert spoken(program(tmp_path, "import time; time.sleep(600)"), hush=threading.Event.set) == ""


def test_what_is_installed_is_found_and_speech_dispatcher_first() -> None:
    """Its users have chosen voice, language and loudness there."""
    assert found_command(lambda name: f"/usr/bin/{name}") == ("spd-say", "--wait")
    assert found_command(lambda name: name if name == "espeak-ng" else None) == ("espeak-ng",)
    assert found_command(lambda _name: None) == ()


@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")
def test_it_really_speaks(tmp_path: Path) -> None:
    """Into a file: a longer text is a longer sound, and none of them silence."""
    lengths = []
    for text in ("six hundred ten", "six hundred ten, plus ninety a minute, limit one hundred"):
        path = tmp_path / "said.wav"
        assert Voice(["espeak-ng", "-w", str(path)]).speak(text, threading.Event()) == ""
        with wave.open(str(path)) as sound:
            frames = sound.readframes(sound.getnframes())
            lengths.append(sound.getnframes() / sound.getframerate())
        assert max(frames) > 0
    assert 0.5 < lengths[0] < lengths[1]
