"""A message as it leaves: topic, payload, and the few properties of MQTT 5.0 (OASIS, 2019) that are used."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Message:
    """One message to publish, always at QoS 1. `expiry_s` is whole seconds, None for a message that never expires."""

    topic: str
    payload: bytes
    retain: bool = False
    expiry_s: int | None = None
    is_json: bool = False
    user: tuple[tuple[str, str], ...] = ()
    response_topic: str = ""
    correlation: bytes | None = None


@dataclass(frozen=True, slots=True)
class ArrivedMessage:
    """One message that came. `expiry_s` is what was left of its life, None when it had no end."""

    topic: str
    payload: bytes
    retained: bool
    expiry_s: int | None = None
    response_topic: str = ""
    correlation: bytes | None = None
    user: tuple[tuple[str, str], ...] = ()

    def user_property(self, name: str) -> str:
        """Give a user property's value, or nothing."""
        return next((value for key, value in self.user if key == name), "")
