"""Where a broker is and what it takes to be let in: address, TLS files, password, and why a connection failed.

A certificate is always verified, host name included; there is no switch for it. The password stands in a file, never in
an argument, the settings or the environment, where other users or a crash report could see it.
"""

import ipaddress
import socket
import ssl
from dataclasses import dataclass
from pathlib import Path

from rampwarden.errors import BrokerError

HUNG_UP = "it hung up before it had answered; is this the right port, and do both sides speak TLS, or neither?"


@dataclass(frozen=True, slots=True)
class BrokerAddress:
    """Where a broker listens."""

    host: str
    port: int

    def __str__(self) -> str:
        return f"[{self.host}]:{self.port}" if ":" in self.host else f"{self.host}:{self.port}"

    @property
    def is_loopback(self) -> bool:
        """Whether the broker is on this computer, where nobody listens in."""
        try:
            return ipaddress.ip_address(self.host).is_loopback
        except ValueError:
            return self.host == "localhost"


@dataclass(frozen=True, slots=True)
class LinkParameters:
    """How to connect. `tls` without `ca_file` trusts what the system trusts; the password stands in a file."""

    client_id: str
    tls: bool = False
    ca_file: Path | None = None
    certificate: Path | None = None
    key: Path | None = None
    user: str = ""
    password_file: Path | None = None

    def context(self) -> ssl.SSLContext | None:
        """Give the TLS context, certificate and host name verified; raises `BrokerError` for a file it cannot use."""
        if not self.tls:
            return None
        try:
            context = ssl.create_default_context(cafile=self.ca_file)
            context.sslsocket_class = _CarefulSocket
            if self.certificate is not None:
                context.load_cert_chain(self.certificate, self.key)
        except (OSError, ssl.SSLError) as error:
            named = " or ".join(str(path) for path in (self.ca_file, self.certificate, self.key) if path)
            raise BrokerError(f"mqtt: cannot use {named}: {error}") from error
        return context

    def password(self) -> str | None:
        """Read the password, first line only; raises `BrokerError` when the file cannot be read."""
        if self.password_file is None:
            return None
        try:
            return self.password_file.read_text(encoding="utf-8").partition("\n")[0]
        except (OSError, UnicodeDecodeError) as error:
            raise BrokerError(f"mqtt: cannot read the password from {self.password_file}: {error}") from error


class _CarefulSocket(ssl.SSLSocket):
    """A TLS socket that closes itself when the handshake fails: the client library would leave it open."""

    def do_handshake(self, block: bool = False) -> None:
        try:
            super().do_handshake(block)
        except BaseException:
            self.close()
            raise


def explain(error: BaseException) -> str:
    """Word why a connection could not be made, with what to look at."""
    if isinstance(error, ssl.SSLCertVerificationError):
        hint = "; is this computer's clock right?" if "not yet valid" in error.verify_message else ""
        return f"the broker's certificate is not trusted: {error.verify_message}{hint}"
    if isinstance(error, ssl.SSLError):
        return f"TLS failed: {error.reason or error}; is this the broker's TLS port?"
    if isinstance(error, socket.gaierror):
        return f"the broker's name is not known here: {error.strerror}"
    if isinstance(error, ConnectionResetError):
        return HUNG_UP
    if isinstance(error, TimeoutError):
        return "the broker does not answer"
    if isinstance(error, OSError):
        return error.strerror or str(error)
    return str(error)
