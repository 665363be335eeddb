"""Whether a file that holds a password, a token or a key is for our eyes only."""

import os
import shlex
import stat
from pathlib import Path

from rampwarden.errors import OpenSecretError


def see_that_it_is_secret(key: str, path: Path) -> None:
    """Raise `OpenSecretError`, with the command that mends it, when every user of this computer can get at the file.

    A folder on the way that others may not enter keeps it as well as its own mode does. A file that is not there, or
    not to be looked at, is for whoever reads it to complain of.
    """
    try:
        file = path.resolve()
        open_to_others = file.stat().st_mode & (stat.S_IROTH | stat.S_IWOTH)
        if not open_to_others or not all(folder.stat().st_mode & stat.S_IXOTH for folder in file.parents):
            return
        is_ours = file.stat().st_uid == os.getuid()
    except (OSError, RuntimeError):
        return
    # Another's file we read by its group: to take that away too would lock us out.
    mode = "600" if is_ours else "o="
    raise OpenSecretError(
        f"{key}: everybody on this computer can get at {path}; put a new secret into it after: "
        f"chmod {mode} {shlex.quote(str(path))}"
    )
