"""Builds the page from settings: where it is served, to whom, and under which names.

Here it is decided what may be open and what may go in the clear. A setting that cannot work, or would let strangers in,
is refused before the heat begins.
"""

import ipaddress
from collections.abc import Mapping
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from rampwarden.assembly.secret_files import see_that_it_is_secret
from rampwarden.errors import SettingsError
from rampwarden.page.access import Access, AccessRules
from rampwarden.settings import CREDENTIALS_VARIABLE, PageSection

if TYPE_CHECKING:
    import ssl

    from rampwarden.page.server import PageServer

_READ_CREDENTIAL = "page-read-token"
_ACT_CREDENTIAL = "page-act-token"
# Letters of a token: what nobody guesses at the pace the page allows, and a glove may still type.
_SHORTEST_TOKEN = 12


def page_server(section: PageSection, environment: Mapping[str, str]) -> "PageServer | None":
    """Give the server of the page, its place taken, None when it is off; raises `SettingsError` if it cannot be."""
    if not section.enabled:
        return None
    access, tls = page_access(section, environment)
    # A watch without a page starts sooner, and does without what it needs.
    from rampwarden.page.server import ListenAddress, PageServer  # noqa: PLC0415

    host, port = _address(section.address)
    return PageServer(ListenAddress(host, port, tls, section.behind_proxy, section.metrics), access)


def page_access(section: PageSection, environment: Mapping[str, str]) -> "tuple[Access, ssl.SSLContext | None]":
    """Give to whom the page is open, and the TLS it is served by; raises `SettingsError` for what must not be."""
    if find_spec("starlette") is None or find_spec("uvicorn") is None:
        raise SettingsError("page.enabled: the page needs more than is installed: pip install 'rampwarden[page]'")
    if section.metrics and find_spec("prometheus_client") is None:
        raise SettingsError("page.metrics: needs more than is installed: pip install 'rampwarden[metrics]'")
    host, port = _address(section.address)
    is_local = ipaddress.ip_address(host).is_loopback
    tls = _tls(section)
    if section.behind_proxy and (not is_local or tls is not None):
        raise SettingsError(
            "page.behind_proxy: a proxy is believed whom it speaks for, so it must be the only way in: "
            "listen on 127.0.0.1, without page.certificate"
        )
    if not is_local and tls is None and not section.allow_plain_text:
        raise SettingsError(
            f"page.address = {section.address!r}: others can reach it, and without TLS everybody on the way could read "
            "the token and act; set page.certificate and page.key, or page.allow_plain_text = true if that is what you "
            "want"
        )
    read_token = _token("read_token_file", section.read_token_file, _READ_CREDENTIAL, environment)
    act_token = _token("act_token_file", section.act_token_file, _ACT_CREDENTIAL, environment)
    if read_token and read_token == act_token:
        raise SettingsError("page.act_token_file: is the token for reading too; acting needs one of its own")
    is_reachable = not is_local or section.behind_proxy or any(name != "localhost" for name in section.names)
    if is_reachable and not (read_token or act_token):
        raise SettingsError(
            f"page.address = {section.address!r}: others can reach it, so it needs a token: set page.read_token_file "
            "or page.act_token_file"
        )
    rules = AccessRules(
        names=frozenset(section.names),
        read_token=read_token,
        act_token=act_token,
        reading_is_open=not is_reachable and not read_token,
        is_secure=tls is not None or section.behind_proxy,
        port=port,
    )
    return Access(rules), tls


def _address(text: str) -> tuple[str, int]:
    host, colon, port = text.rpartition(":")
    try:
        number = int(port) if colon else -1
        address = ipaddress.ip_address(host.removeprefix("[").removesuffix("]"))
        if (":" in str(address)) is not host.startswith("["):
            raise ValueError(text)
    except ValueError:
        raise SettingsError(
            f"page.address = {text!r}: is no address and port such as '127.0.0.1:8420', '0.0.0.0:8420' or '[::]:8420'"
        ) from None
    if not 0 <= number < 65_536:
        raise SettingsError(f"page.address = {text!r}: a port lies between 1 and 65535; 0 is any that is free")
    return str(address), number


def _tls(section: PageSection) -> "ssl.SSLContext | None":
    if section.certificate is None:
        if section.key is not None:
            raise SettingsError("page.key: a key without page.certificate proves nothing; give both")
        return None
    import ssl  # noqa: PLC0415 (a page in the clear does without)

    see_that_it_is_secret("page.key", section.key or section.certificate)
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    try:
        # A password would be asked for at a terminal that a service has not.
        context.load_cert_chain(section.certificate, section.key, password=lambda: b"")
    except (OSError, ssl.SSLError) as error:
        named = " or ".join(str(path) for path in (section.certificate, section.key) if path)
        raise SettingsError(f"page.certificate: cannot use {named}: {error}") from error
    return context


def _token(key: str, path: Path | None, credential: str, environment: Mapping[str, str]) -> str:
    """Read a token, first line only; empty when there is none to be read."""
    folder = environment.get(CREDENTIALS_VARIABLE)
    handed = Path(folder) / credential if folder else None
    path = path or (handed if handed is not None and handed.is_file() else None)
    if path is None:
        return ""
    see_that_it_is_secret(f"page.{key}", path)
    try:
        token = path.read_text(encoding="utf-8").partition("\n")[0].strip()
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError(f"page.{key}: cannot read the token from {path}: {error}") from error
    if len(token) < _SHORTEST_TOKEN:
        raise SettingsError(
            f"page.{key}: the token in {path} has {len(token)} letters; at least {_SHORTEST_TOKEN}, made by chance: "
            f"openssl rand -hex 8 > {path}"
        )
    return token
