"""The furnace on an MQTT broker: its state, its events, and the commands that come back."""

from typing import TYPE_CHECKING

from rampwarden.lazy_face import lazy_face

if TYPE_CHECKING:
    from rampwarden.outputs.mqtt.back_off import BackOff
    from rampwarden.outputs.mqtt.broker import BrokerAddress, LinkParameters
    from rampwarden.outputs.mqtt.commands import OLDEST_S, CommandDesk
    from rampwarden.outputs.mqtt.hearing import Hearing
    from rampwarden.outputs.mqtt.homie import ALARM_EVENT, DEVICE_ID, HEAT_EVENT, VERSION, Device
    from rampwarden.outputs.mqtt.homie_commands import COMMANDS
    from rampwarden.outputs.mqtt.homie_payloads import json_text
    from rampwarden.outputs.mqtt.homie_property import HeatFacts
    from rampwarden.outputs.mqtt.link import Answered, Down, Link, News, SubscriptionGranted, SubscriptionRefused, Up
    from rampwarden.outputs.mqtt.message import ArrivedMessage, Message
    from rampwarden.outputs.mqtt.output import MqttOutput
    from rampwarden.outputs.mqtt.probe_nodes import nodes_of_probes
    from rampwarden.outputs.mqtt.sender import Sender
else:
    __getattr__ = lazy_face(__name__)

__all__ = [
    "ALARM_EVENT",
    "COMMANDS",
    "DEVICE_ID",
    "HEAT_EVENT",
    "OLDEST_S",
    "VERSION",
    "Answered",
    "ArrivedMessage",
    "BackOff",
    "BrokerAddress",
    "CommandDesk",
    "Device",
    "Down",
    "Hearing",
    "HeatFacts",
    "Link",
    "LinkParameters",
    "Message",
    "MqttOutput",
    "News",
    "Sender",
    "SubscriptionGranted",
    "SubscriptionRefused",
    "Up",
    "json_text",
    "nodes_of_probes",
]
