"""Where tables are: a file, or a server by its URL, as libpq writes it (PostgreSQL documentation, 34.1.1.2).

A password does not belong into a URL, since settings are printed, logged and shown by `ps`: it stands in libpq's own
password file, which is refused when others can read it.
"""

from pathlib import Path
from urllib.parse import parse_qsl, urlsplit

Where = Path | str
"""A file's path, or the URL of a server."""

_SCHEMES = ("postgresql", "postgres")


def is_server(where: Where) -> bool:
    """Tell whether this is the URL of a server."""
    return isinstance(where, str) and where.partition("://")[0] in _SCHEMES


def place_of(text: str) -> Where:
    """Give a file or a server from what somebody wrote; raises `ValueError` in words for what is neither."""
    scheme, sign, rest = text.partition("://")
    if not sign:
        try:
            return Path(text).expanduser()
        except RuntimeError as error:
            raise ValueError(str(error)) from None
    if scheme.casefold() not in _SCHEMES:
        raise ValueError("is neither a file nor a server such as postgresql://rampwarden@server/rampwarden")
    try:
        parts = urlsplit(f"{_SCHEMES[0]}://{rest}")
        parts.port  # noqa: B018  (looked at, since it is read then)
    except ValueError as error:
        raise ValueError(f"is no URL: {error}") from None
    if parts.password is not None or any(name == "password" for name, _ in parse_qsl(parts.query)):
        raise ValueError(
            "holds a password, and settings are shown; write it into ~/.pgpass (host:port:database:user:password), "
            "or into a file named by ?passfile="
        )
    # Not put together again from its parts: a server of this computer, without a host, would lose its two slashes.
    return f"{_SCHEMES[0]}://{rest}"


def server_name(url: str) -> str:
    """Give a server's URL without what is set in it, fit to be shown."""
    parts = urlsplit(url)
    return f"{_SCHEMES[0]}://{parts.hostname or ''}{f':{parts.port}' if parts.port else ''}{parts.path}"
