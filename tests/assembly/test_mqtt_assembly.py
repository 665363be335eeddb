"""From settings to a broker: what may be sent in the clear, where the password comes from, what is refused at once."""

from pathlib import Path

import pytest

from rampwarden.assembly.mqtt import broker_access
from rampwarden.errors import SettingsError
from rampwarden.outputs.mqtt.broker import BrokerAddress
from rampwarden.settings import MqttSection, load_settings


def access_to(*brokers: str, **how: object) -> tuple[BrokerAddress, ...]:
    """Give the addresses these settings mean."""
    access = broker_access(MqttSection(broker=brokers, **how), "furnace-1", {})  # type: ignore[arg-type]
    return () if access is None else access.brokers


def refusal(**how: object) -> str:
    """Give the line somebody reads whose settings cannot work."""
    with pytest.raises(SettingsError) as caught:
        broker_access(MqttSection(**how), "furnace-1", {})  # type: ignore[arg-type]
    return str(caught.value)


def test_without_a_broker_there_is_no_mqtt() -> None:
    """Which is how it comes."""
    assert broker_access(MqttSection(), "furnace-1", {}) is None


def test_an_address_may_have_a_port_and_else_has_the_usual_one() -> None:
    """Names, IPv4, IPv6 in brackets; 1883, with TLS 8883."""
    assert access_to("localhost", "127.0.0.1:18830", "[::1]:1999", "[::1]") == (
        BrokerAddress("localhost", 1883),
        BrokerAddress("127.0.0.1", 18830),
        BrokerAddress("::1", 1999),
        BrokerAddress("::1", 1883),
    )
    assert access_to("shop", tls=True) == (BrokerAddress("shop", 8883),)


def test_nothing_goes_in_the_clear_to_another_computer_unless_it_is_asked_for() -> None:
    """One broker of the list that is elsewhere is enough to refuse."""
    assert "set mqtt.tls = true, or mqtt.allow_plain_text = true" in refusal(broker=("localhost", "shop"))
    assert access_to("shop", allow_plain_text=True) == (BrokerAddress("shop", 1883),)


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({"broker": ("localhost:0",)}, "a port lies between 1 and 65535"),
        ({"broker": ("localhost:70000",)}, "a port lies between 1 and 65535"),
        ({"broker": ("shop",), "tls": True, "ca_file": "/no/ca.pem"}, "cannot use /no/ca.pem"),
        ({"broker": ("shop",), "tls": True, "key": "/no/key.pem"}, "a key without mqtt.certificate"),
        ({"broker": ("localhost",), "user": "f", "password_file": "/no/secret"}, "cannot read the password"),
    ],
)
def test_what_cannot_work_is_refused_before_the_heat(how: dict[str, object], words: str) -> None:
    """Not at the first alarm."""
    assert words in refusal(**how)


@pytest.mark.parametrize(
    ("text", "path"),
    [
        ('device = "Furnace 1"', "mqtt.device"),
        ('device = "-a"', "mqtt.device"),
        ('prefix = "a/b"', "mqtt.prefix"),
        ('broker = "mqtt://shop"', "mqtt.broker"),
        ('broker = "::1"', "mqtt.broker"),
        ('commands = ["end-heat"]', "mqtt.commands"),
    ],
)
def test_a_setting_the_convention_or_a_broker_cannot_bear_is_refused_with_its_path(
    tmp_path: Path, text: str, path: str
) -> None:
    """One line, as for every other setting."""
    file = tmp_path / "s.toml"
    file.write_text(f"[mqtt]\n{text}\n", encoding="utf-8")
    with pytest.raises(SettingsError) as caught:
        load_settings(file, {}, {})
    assert f": {path}" in str(caught.value)


def test_brokers_and_commands_may_be_written_with_commas_in_the_environment() -> None:
    """Without brackets and quotes."""
    environment = {"RAMPWARDEN_MQTT__BROKER": "a, b:1884", "RAMPWARDEN_MQTT__COMMANDS": "acknowledge,note"}
    section = load_settings(None, {}, environment).settings.mqtt
    assert (section.broker, section.commands) == (("a", "b:1884"), ("acknowledge", "note"))


def test_the_password_file_of_the_settings_goes_before_the_one_systemd_hands_over(tmp_path: Path) -> None:
    """A credential named mqtt-password is found without being set; a set file is meant."""
    (tmp_path / "mqtt-password").write_text("from systemd\n")
    (tmp_path / "own").write_text("own\n")
    environment = {"CREDENTIALS_DIRECTORY": str(tmp_path)}

    def password(**how: object) -> str | None:
        section = MqttSection(broker=("localhost",), user="furnace-1", **how)  # type: ignore[arg-type]
        access = broker_access(section, "furnace-1", environment)
        return None if access is None else access.parameters.password()

    assert password() == "from systemd"
    assert password(password_file=tmp_path / "own") == "own"
