"""What makes itself heard: the voice that was asked for, or why there is none."""

import sys

import pytest

from rampwarden.assembly import audible
from rampwarden.assembly.audible import Audible, voice_command
from rampwarden.errors import SettingsError
from rampwarden.settings import Settings
from rampwarden.settings.sections import SpeechSection


def settings(**fields: object) -> Settings:
    return Settings(speech=SpeechSection.model_validate(fields))


def test_a_voice_is_off_until_somebody_asks_for_it() -> None:
    """A workshop that is talked to unasked pulls the plug."""
    assert voice_command(Settings()) is None
    assert not Audible(Settings(), None, None, None).say_state()


def test_a_command_of_ones_own_is_taken_and_one_that_is_not_there_refused() -> None:
    """Before the heat, while somebody can mend it."""
    assert voice_command(settings(enabled=True, command=[sys.executable, "-c", "0"])) == (sys.executable, "-c", "0")
    with pytest.raises(SettingsError, match="there is no program 'no-such-voice'"):
        voice_command(settings(enabled=True, command=["no-such-voice"]))


def test_without_any_voice_installed_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(audible, "found_command", lambda: ())
    with pytest.raises(SettingsError, match="neither spd-say nor espeak-ng is installed"):
        voice_command(settings(enabled=True))


def test_a_voice_says_the_state_when_it_is_asked() -> None:
    made = Audible(settings(enabled=True), None, [sys.executable, "-c", "0"], None)
    assert made.say_state()
    assert len(made.outputs) == 1
    made.close()
