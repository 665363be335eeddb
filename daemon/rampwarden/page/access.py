"""Who may look and who may act: the names the page answers to, tokens, the cookie that remembers one.

Policy. Reading and acting are two rights, each with a token of its own; whoever may act may read. Nobody acts without
the act token, wherever they sit. A cookie is a signed statement of its right and its end, so that nothing is kept here
and a tablet on the wall stays let in when the next heat begins; another token makes every cookie void.

A page of another site may try to speak to this one through a browser that is let in. So the name a request was sent to
must be one of ours (a foreign name that has been pointed at our address is not), and an order must come from a page of
our own. Decides only; knows no requests, no responses and no clock.
"""

import hashlib
import hmac
import ipaddress
from collections import OrderedDict
from dataclasses import dataclass
from enum import StrEnum
from urllib.parse import urlsplit

from rampwarden.rate_limiter import RateLimiter

_LOOPBACK_NAMES = frozenset({"localhost", "127.0.0.1", "::1"})
# A tablet on the wall is asked for its token four times a year.
_COOKIE_LASTS_S = 90 * 86_400
# Wrong tokens from one address, and from everybody together, within a minute; after that every token waits before it is
# looked at. A person mistypes twice; whoever tries all tokens of twelve letters at this pace, over as many connections
# as there are, is done in more years than there are. The right one is let in all the same: a stranger behind the same
# address (a proxy, one computer) must not lock out whoever has to act.
_SLOWED_S = 1.0
_MOST_TRIES = 5
_MOST_TRIES_TOGETHER = 30
_TRIES_WITHIN_S = 60.0
_MOST_ADDRESSES = 256


class Right(StrEnum):
    """What somebody may do; who may act may read."""

    READ = "read"
    ACT = "act"


@dataclass(frozen=True, slots=True)
class AccessRules:
    """How the page is reached, and what opens it.

    `names` are the host names it answers to beside its own address. An empty token gives its right to nobody, except
    that `reading_is_open` lets everybody read. `is_secure`: the browser speaks TLS, with us or with our proxy.
    """

    names: frozenset[str]
    read_token: str
    act_token: str
    reading_is_open: bool
    is_secure: bool
    port: int


class TriedTooOftenError(Exception):
    """A wrong token after too many others; `wait_s` seconds from now one is looked at without delay again."""

    def __init__(self, wait_s: float) -> None:
        super().__init__(f"too many wrong tokens; try again in {wait_s:.0f} s")
        self.wait_s = wait_s


class Access:
    """Judges who may do what. Times come from whoever asks: `wall_s` by the calendar, `now_s` by a steady clock."""

    def __init__(self, rules: AccessRules) -> None:
        self.rules = rules
        self._tries: OrderedDict[str, RateLimiter] = OrderedDict()
        self._tries_together = RateLimiter(_MOST_TRIES_TOGETHER, _TRIES_WITHIN_S)
        # A cookie marked __Host- is refused by browsers unless it is secure and for this host alone. The port stands in
        # the name because browsers do not tell two furnaces on one computer apart.
        self._cookie_name = f"{'__Host-' if rules.is_secure else ''}rampwarden-{rules.port}"

    def is_our_name(self, host: str, own_address: str) -> bool:
        """Tell whether a request's Host is a name of ours, or the very address it came in on."""
        name = _host_name(host)
        if name is None:
            return False
        if name in self.rules.names:
            return True
        return _is_same_address(name, own_address) or (name in _LOOPBACK_NAMES and _is_loopback(own_address))

    def is_our_origin(self, origin: str, host: str) -> bool:
        """Tell whether `origin` is a page of ours, as served under the name `host`."""
        scheme = "https" if self.rules.is_secure else "http"
        return origin.lower() == f"{scheme}://{host.lower()}"

    def right_of(self, cookies: str, wall_s: float) -> Right | None:
        """Give the right that a Cookie header proves, or that everybody has."""
        for part in cookies.split(";"):
            name, _, value = part.strip().partition("=")
            if name == self._cookie_name and (right := self._proven(value, wall_s)) is not None:
                return right
        return Right.READ if self.rules.reading_is_open else None

    def pause_s(self, address: str, now_s: float) -> float:
        """Give how long a token from this address has to wait, s, before `admit` is asked; 0 after few wrong ones."""
        return _SLOWED_S if self._wait_s(address, now_s) > 0 else 0.0

    def admit(self, token: str, address: str, now_s: float) -> Right | None:
        """Give the right a token opens, None for a wrong one; raises `TriedTooOftenError` for one wrong too often.

        The right token opens whatever was tried before it.
        """
        # Both are compared in any case, and by their digests, so that the time taken says nothing.
        may_act = _is_same_token(token, self.rules.act_token)
        may_read = _is_same_token(token, self.rules.read_token)
        if may_act or may_read:
            return Right.ACT if may_act else Right.READ
        wait_s = self._wait_s(address, now_s)
        if wait_s > 0:
            raise TriedTooOftenError(wait_s)
        self._note_try(address, now_s)
        return None

    def cookie(self, right: Right, wall_s: float) -> str:
        """Give the Set-Cookie header that remembers a right."""
        until = f"{right}.{int(wall_s) + _COOKIE_LASTS_S}"
        return self._set_cookie(f"{until}.{self._seal(right, until)}", _COOKIE_LASTS_S)

    def no_cookie(self) -> str:
        """Give the Set-Cookie header that forgets it."""
        return self._set_cookie("", 0)

    def _set_cookie(self, value: str, lasts_s: int) -> str:
        secure = "; Secure" if self.rules.is_secure else ""
        return f"{self._cookie_name}={value}; Path=/; Max-Age={lasts_s}; HttpOnly; SameSite=Strict{secure}"

    def _proven(self, value: str, wall_s: float) -> Right | None:
        until, _, seal = value.rpartition(".")
        named, _, end = until.partition(".")
        if named not in set(Right) or not end.isascii() or not end.isdigit() or len(end) > 12:
            return None
        right = Right(named)
        if not self._token_of(right) or not hmac.compare_digest(self._seal(right, until).encode(), seal.encode()):
            return None
        return right if wall_s < int(end) else None

    def _seal(self, right: Right, until: str) -> str:
        key = hashlib.sha256(self._token_of(right).encode()).digest()
        return hmac.new(key, f"rampwarden page {until}".encode(), hashlib.sha256).hexdigest()

    def _token_of(self, right: Right) -> str:
        return self.rules.act_token if right is Right.ACT else self.rules.read_token

    def _wait_s(self, address: str, now_s: float) -> float:
        tries = self._tries.get(address)
        return max(self._tries_together.wait_s(now_s), 0.0 if tries is None else tries.wait_s(now_s))

    def _note_try(self, address: str, now_s: float) -> None:
        self._tries.setdefault(address, RateLimiter(_MOST_TRIES, _TRIES_WITHIN_S)).note(now_s)
        self._tries.move_to_end(address)
        if len(self._tries) > _MOST_ADDRESSES:
            self._tries.popitem(last=False)
        self._tries_together.note(now_s)


def _is_same_token(given: str, token: str) -> bool:
    digests = (hashlib.sha256(text.encode(errors="replace")).digest() for text in (given, token))
    return hmac.compare_digest(*digests) and bool(token)


def _host_name(host: str) -> str | None:
    """Give the name in a Host header, without its port; None for what is no host."""
    try:
        parts = urlsplit(f"//{host}")
        # Reading the port is what checks it.
        has_more = parts.username is not None or parts.path or parts.query or parts.fragment or parts.port == 0
    except ValueError:
        return None
    return None if has_more or not parts.hostname else parts.hostname.rstrip(".")


def _is_same_address(name: str, own_address: str) -> bool:
    try:
        return _plain(ipaddress.ip_address(name)) == _plain(ipaddress.ip_address(own_address))
    except ValueError:
        return False


def _is_loopback(address: str) -> bool:
    try:
        return _plain(ipaddress.ip_address(address)).is_loopback
    except ValueError:
        return False


def _plain(address: ipaddress.IPv4Address | ipaddress.IPv6Address) -> ipaddress.IPv4Address | ipaddress.IPv6Address:
    """Give the IPv4 address that an IPv6 socket shows in its own form."""
    mapped = address.ipv4_mapped if isinstance(address, ipaddress.IPv6Address) else None
    return mapped or address
