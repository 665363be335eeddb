"""Builds the MQTT output, and whatever else connects to a broker, from settings.

Here it is decided what may be sent in the clear, and where the password comes from. A setting that cannot work is
refused before the heat begins; what the network does later never is a reason to stop.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path

from rampwarden.assembly.secret_files import see_that_it_is_secret
from rampwarden.core.model import CommandName
from rampwarden.errors import BrokerError, SettingsError
from rampwarden.outputs.mqtt import (
    VERSION,
    BrokerAddress,
    CommandDesk,
    Device,
    HeatFacts,
    LinkParameters,
    MqttOutput,
    Sender,
    nodes_of_probes,
)
from rampwarden.outputs.outbox import CurrentRecord, Outbox
from rampwarden.records import Header, RecordWriter, parameters_of
from rampwarden.settings import CREDENTIALS_VARIABLE, MqttSection, Settings

_PORT = 1883
_TLS_PORT = 8883
_CREDENTIAL = "mqtt-password"
REHEARSAL_PREFIX = "rehearsal"
"""First level of a rehearsal's topics: whoever watches furnaces never takes it for one of them."""


@dataclass(frozen=True, slots=True)
class BrokerAccess:
    """The brokers to try in order, and how to be let in."""

    brokers: tuple[BrokerAddress, ...]
    parameters: LinkParameters


def broker_access(section: MqttSection, client_id: str, environment: Mapping[str, str]) -> BrokerAccess | None:
    """Give the access these settings mean, None without a broker; raises `SettingsError` for what cannot work.

    `OpenSecretError` where a password or key lies open to everybody.
    """
    brokers = tuple(_address(text, _TLS_PORT if section.tls else _PORT) for text in section.broker)
    if not brokers:
        return None
    in_the_clear = next((broker for broker in brokers if not section.tls and not broker.is_loopback), None)
    if in_the_clear is not None and not section.allow_plain_text:
        raise SettingsError(
            f"mqtt.broker = {in_the_clear.host!r}: is not this computer, and without TLS everybody on the way could "
            "read and command; set mqtt.tls = true, or mqtt.allow_plain_text = true if that is what you want"
        )
    if section.key is not None and section.certificate is None:
        raise SettingsError("mqtt.key: a key without mqtt.certificate proves nothing; give both")
    parameters = LinkParameters(
        client_id=client_id,
        tls=section.tls,
        ca_file=section.ca_file,
        certificate=section.certificate,
        key=section.key,
        user=section.user,
        password_file=section.password_file or _credential(environment),
    )
    for name, path in (("password_file", section.password_file), ("key", section.key)):
        if path is not None:
            see_that_it_is_secret(f"mqtt.{name}", path)
    try:
        # Both are read again at each connection, so that a renewed file is taken; here it is seen that they can be.
        parameters.context()
        if parameters.user:
            parameters.password()
    except BrokerError as error:
        raise SettingsError(str(error)) from error
    return BrokerAccess(brokers, parameters)


def mqtt_output(
    section: MqttSection, access: BrokerAccess, header: Header, writer: RecordWriter, on_reach: Callable[[bool], None]
) -> MqttOutput:
    """Give the output for one heat; it does nothing until it is started."""
    started = datetime.fromisoformat(header.started)
    allowed = [CommandName(name) for name in section.commands]
    probes = nodes_of_probes(probe.name for probe in parameters_of(header, header.id).probes)
    device = Device(section.prefix, section.device, section.name, allowed, probes)
    heat = HeatFacts(header.id, header.title, header.crucible, started)
    outbox = Outbox(section.device, CurrentRecord(writer.path, header.id, started, writer, header.carried))
    commands = CommandDesk(device.command_topics(), closed_to_answers=f"{section.prefix}/{VERSION}/")
    make_sender = partial(Sender, access.brokers, access.parameters, device, heat, outbox, commands)
    return MqttOutput(make_sender, on_reach)


def client_id(section: MqttSection) -> str:
    """Give what a watch calls itself at the broker: its device, and a rehearsal another name than the furnace's own."""
    return f"{section.device}-rehearsal" if section.prefix == REHEARSAL_PREFIX else section.device


def rehearsed(settings: Settings) -> Settings:
    """Give the settings for a rehearsal: it speaks beside the furnace of the same name, in nobody's place."""
    section = settings.mqtt.model_copy(update={"prefix": REHEARSAL_PREFIX, "name": "rehearsal"})
    return settings.model_copy(update={"mqtt": section})


def _address(text: str, usual_port: int) -> BrokerAddress:
    host, colon, port = text.rpartition(":")
    if not colon or text.endswith("]"):
        host, port = text, str(usual_port)
    number = int(port)
    if not 0 < number < 65_536:
        raise SettingsError(f"mqtt.broker = {text!r}: a port lies between 1 and 65535")
    return BrokerAddress(host.strip("[]"), number)


def _credential(environment: Mapping[str, str]) -> Path | None:
    """Give the password systemd has handed over, if it has."""
    folder = environment.get(CREDENTIALS_VARIABLE)
    path = Path(folder) / _CREDENTIAL if folder else None
    return path if path is not None and path.is_file() else None
