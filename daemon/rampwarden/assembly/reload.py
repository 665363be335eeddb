"""What a running watch does at SIGHUP: open the port anew, read the settings again, and say what that changed.

A heat is watched to its end by what it began with: limits, delays, priorities, texts and schedule stand in the header
of its record, and a replay must say what the watch said. So of what has changed, only that is applied at once which no
replay could tell; the rest is named, and waits for the next heat. Settings that cannot be read change nothing.
"""

import threading
from collections.abc import Callable, Mapping

from rampwarden.errors import RampwardenError
from rampwarden.plain_logs import structlog
from rampwarden.sd_notify import ServiceNotifier
from rampwarden.settings import Settings, leaves
from rampwarden.terminal_text import error_lines

_CLOSE_S = 1.0
_STATUS_EVERY = "watch.status_every"
_NOT_READ = "settings not read again, the old ones stay"


class Reload:
    """Reloads in a thread of its own when asked; `start` it, `close` it.

    `reread` gives the settings anew or raises `RampwardenError`, `reopen` opens the port anew, `say_status_every` sets
    how often the log has a status line, seconds; what went wrong is given to `say`, for every output. All may be called
    from any thread.
    """

    def __init__(
        self,
        in_force: Settings,
        reread: Callable[[], Settings],
        reopen: Callable[[], None],
        say_status_every: Callable[[float], None],
        notifier: ServiceNotifier,
        say: Callable[[str], None],
    ) -> None:
        self._in_force = _flat(in_force)
        self._reread = reread
        self._reopen = reopen
        self._say_status_every = say_status_every
        self._notifier = notifier
        self._say = say
        self._log = structlog.get_logger()
        self._asked = threading.Event()
        self._closing = False
        self._worker = threading.Thread(target=self._work, name="reload", daemon=True)

    def start(self) -> None:
        """Be ready to be asked."""
        self._worker.start()

    def ask(self) -> None:
        """Ask for a reload; returns at once, fit for a signal handler. Asked twice in a row, it may be done once."""
        self._asked.set()

    def close(self) -> None:
        """Be asked no more. A worker that waits for a disk is left behind."""
        self._closing = True
        self._asked.set()
        self._worker.join(_CLOSE_S)

    def _work(self) -> None:
        while True:
            self._asked.wait()
            self._asked.clear()
            if self._closing:
                return
            self._notifier.reloading()
            try:
                self._reload()
            except RampwardenError as error:
                first, *more = error_lines(str(error))
                others = f" (and {len(more)} more: see rampwarden settings)" if more else ""
                self._say(f"{_NOT_READ}: {first}{others}")
                for line in more:
                    self._log.warning(f"{_NOT_READ}: {line}")
            except Exception as error:  # outermost: the next reload may fare better
                self._log.error(f"settings not read again: unexpected {type(error).__name__}: {error}")
                self._say(f"{_NOT_READ}: unexpected {type(error).__name__}")
            finally:
                self._notifier.reloaded()

    def _reload(self) -> None:
        self._reopen()
        fresh = self._reread()
        flat = _flat(fresh)
        changed = sorted(path for path in {*flat, *self._in_force} if flat.get(path) != self._in_force.get(path))
        waiting = [path for path in changed if path != _STATUS_EVERY]
        news = ["the port is opened anew"]
        if _STATUS_EVERY in changed:
            self._say_status_every(fresh.watch.status_every)
            self._in_force = {**self._in_force, _STATUS_EVERY: flat.get(_STATUS_EVERY)}
            news.append(f"applied: {_STATUS_EVERY}")
        if waiting:
            news.append(f"changed, but not for a running heat: {', '.join(waiting)}")
        elif not changed:
            news.append("no setting has changed")
        self._log.info(f"reload: {'; '.join(news)}")


def _flat(settings: Settings) -> Mapping[str, object]:
    """Give every value that is not at its default, by its key path."""
    return dict(leaves(settings.model_dump(mode="json", exclude_defaults=True)))
