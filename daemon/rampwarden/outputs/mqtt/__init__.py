"""The furnace on an MQTT broker: its state, its events, and the commands that come back."""

from rampwarden.outputs.mqtt.back_off import BackOff
from rampwarden.outputs.mqtt.broker import BrokerAddress, LinkParameters
from rampwarden.outputs.mqtt.commands import OLDEST_S, CommandDesk
from rampwarden.outputs.mqtt.homie import ALARM_EVENT, COMMANDS, DEVICE_ID, HEAT_EVENT, VERSION, Device, HeatFacts
from rampwarden.outputs.mqtt.homie_payloads import json_text
from rampwarden.outputs.mqtt.link import Answered, Down, Link, News, SubscriptionRefused, Up
from rampwarden.outputs.mqtt.message import ArrivedMessage, Message
from rampwarden.outputs.mqtt.output import MqttOutput
from rampwarden.outputs.mqtt.probe_nodes import probe_nodes
from rampwarden.outputs.mqtt.sender import Sender

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
    "HeatFacts",
    "Link",
    "LinkParameters",
    "Message",
    "MqttOutput",
    "News",
    "Sender",
    "SubscriptionRefused",
    "Up",
    "json_text",
    "probe_nodes",
]
