"""An output that cannot be had costs itself alone; a secret that lies open is not used."""

from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from rampwarden.assembly.mqtt import broker_access
from rampwarden.assembly.page import page_access
from rampwarden.assembly.secret_files import see_that_it_is_secret
from rampwarden.assembly.spared_outputs import SparedOutputs
from rampwarden.errors import OpenSecretError, SettingsError
from rampwarden.settings import load_settings


def raising(error: Exception) -> Callable[[], str]:
    def build() -> str:
        raise error

    return build


def test_a_fresh_heat_is_refused_for_what_cannot_work_and_one_under_way_goes_on_without() -> None:
    """Whoever starts a heat relies on what they have set."""
    wrong = raising(SettingsError("page.address = 'x': is no address"))
    with pytest.raises(SettingsError):
        SparedOutputs(is_under_way=False).make("the page", wrong)
    spared = SparedOutputs(is_under_way=True)
    assert spared.make("the page", wrong) is None
    assert spared.make("the bell", lambda: "a bell") == "a bell"
    assert spared.sentences == ["the page is off: page.address = 'x': is no address"]


@pytest.mark.parametrize("is_under_way", [False, True])
def test_an_open_secret_refuses_no_heat(is_under_way: bool) -> None:
    """A password that everybody can read is no reason to leave a furnace unwatched."""
    spared = SparedOutputs(is_under_way=is_under_way)
    assert spared.make("MQTT", raising(OpenSecretError("chmod 600 x"))) is None
    assert spared.sentences == ["MQTT is off: chmod 600 x"]


@pytest.fixture
def open_folder(tmp_path: Path) -> Path:
    """Give a folder that everybody may enter, all the way down to it."""
    for folder in (tmp_path, *tmp_path.parents):
        if folder.stat().st_uid == tmp_path.stat().st_uid and not folder.stat().st_mode & 0o001:
            folder.chmod(folder.stat().st_mode | 0o001)
    return tmp_path


@pytest.mark.parametrize(("mode", "is_open"), [(0o600, False), (0o640, False), (0o604, True), (0o602, True)])
def test_a_secret_is_open_when_everybody_may_read_or_write_it(open_folder: Path, mode: int, is_open: bool) -> None:
    """A group is somebody's choice: a service reads its password by it."""
    file = open_folder / "token file"
    file.write_text("0123456789abcdef")
    file.chmod(mode)
    if not is_open:
        see_that_it_is_secret("page.act_token_file", file)
        return
    with pytest.raises(OpenSecretError) as refused:
        see_that_it_is_secret("page.act_token_file", file)
    assert str(refused.value).endswith(f"chmod 600 '{file}'")


def test_a_folder_that_others_may_not_enter_keeps_a_secret_too(open_folder: Path) -> None:
    """Nobody is told to mend what is not broken; a file that is not there is for others to complain of."""
    file = open_folder / "token"
    file.write_text("0123456789abcdef")
    file.chmod(0o644)
    open_folder.chmod(0o700)
    see_that_it_is_secret("page.act_token_file", file)
    see_that_it_is_secret("page.act_token_file", open_folder / "none")


def test_password_key_and_tokens_are_all_looked_at(open_folder: Path) -> None:
    """Of broker and page."""
    secret = open_folder / "secret"
    secret.write_text("0123456789abcdef")
    secret.chmod(0o644)
    near = {"mqtt.broker": "127.0.0.1", "page.enabled": True, "page.address": "127.0.0.1:0"}
    keys = ("mqtt.password_file", "mqtt.key", "page.read_token_file", "page.act_token_file", "page.key")
    for key in keys:
        more = {"mqtt.certificate": secret} if key == "mqtt.key" else {}
        more |= {"page.certificate": secret} if key == "page.key" else {}
        settings = load_settings(None, near | more | {key: secret}, {}).settings
        look = partial(page_access, settings.page) if "page" in key else partial(broker_access, settings.mqtt, "x")
        with pytest.raises(OpenSecretError, match=key):
            look({})
