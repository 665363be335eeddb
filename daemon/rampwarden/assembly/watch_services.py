"""What stands beside a running watch: its control socket, its page, the service manager, what is learnt from earlier
heats, and the reload at SIGHUP.

None of it is needed to watch. A control socket that cannot be made costs only itself; one whose name a living watch
has refuses the start, since whoever asked one of the two would be answered by the other. A page that was asked for and
cannot be served where it should be refuses the start too: somebody relies on it. But a heat that is under way is
refused for neither.
"""

import os
import signal
import sys
from collections.abc import Callable, Mapping
from contextlib import ExitStack, closing
from dataclasses import dataclass
from pathlib import Path

from rampwarden.assembly.earlier_pace_learning import EarlierHeatsLearner
from rampwarden.assembly.heat_start import WatchedHeat
from rampwarden.assembly.late_entries import LateEntries, has_late_entries
from rampwarden.assembly.page import page_server
from rampwarden.assembly.record_packing import RecordPacker
from rampwarden.assembly.reload import Reload
from rampwarden.assembly.spared_outputs import SparedOutputs
from rampwarden.control import AboutWatch, make_folder, watch_name
from rampwarden.control.server import ControlServer
from rampwarden.errors import ControlError, SettingsError
from rampwarden.plain_logs import structlog
from rampwarden.records import running_software
from rampwarden.sd_notify import ServiceNotifier
from rampwarden.service import Output, Watch
from rampwarden.settings import Settings
from rampwarden.sources import Board


@dataclass(frozen=True, slots=True)
class Live:
    """What a real furnace's watch has and a rehearsal has not: a board, and settings to `reread`."""

    board: Board
    reread: Callable[[], Settings]


class Upkeep:
    """Sets up before the record is made, so that a refused start leaves nothing behind; `outputs` are the watch's."""

    def __init__(
        self,
        settings: Settings,
        title: str,
        record: Path,
        live: Live | None,
        environment: Mapping[str, str],
        spared: SparedOutputs,
    ) -> None:
        self._settings = settings
        self._live = live
        self._notifier = ServiceNotifier(environment.get("NOTIFY_SOCKET", ""), lambda: live is None or live.board.alive)
        self._page = spared.make("the page", lambda: page_server(settings.page, environment))
        self._ending = ExitStack()
        if self._page is not None:
            self._ending.enter_context(closing(self._page))
        try:
            self._control = spared.make(
                "the control socket",
                lambda: _control(settings, title, record, environment, is_rehearsal=live is None),
            )
        except SettingsError:
            self._ending.close()
            raise
        self._ending.enter_context(closing(self._notifier))
        if self._control is not None:
            self._ending.enter_context(closing(self._control))

    @property
    def outputs(self) -> list[Output]:
        """What the watch has to show itself to."""
        return [each for each in (self._notifier, self._control, self._page) if each is not None]

    def start(self, watch: Watch, heat: WatchedHeat, waiting: Callable[[], int] | None = None) -> None:
        """Answer for this watch of a heat from now on; `waiting` counts what the broker has not taken, if any."""
        if self._page is not None:
            counts = {"readings": lambda: heat.keeper.believed_readings}
            if waiting is not None:
                counts["outbox_waiting"] = waiting
            self._page.start(heat.keeper.picture, watch.hear, counts)
            structlog.get_logger().info(f"the page is served at {self._page.url}")
        if self._control is not None:
            self._control.serve(watch.hear)
        if self._live is not None:
            folder, known = self._settings.watch.records, heat.monitor.earlier_heats
            self._ending.enter_context(closing(EarlierHeatsLearner(folder, heat.header, known, watch.hear)))
            if self._settings.watch.pack_after:
                self._ending.enter_context(closing(RecordPacker(folder, self._settings.watch.pack_after)))
            if has_late_entries(self._settings):
                self._ending.enter_context(closing(LateEntries(self._settings)))
        # At a terminal SIGHUP means that it is being closed; that ends the watch, as it always has.
        at_terminal = sys.stdin.isatty() or sys.stdout.isatty()
        if self._live is None or at_terminal or signal.getsignal(signal.SIGHUP) is signal.SIG_IGN:
            return
        reload = Reload(
            self._settings,
            self._live.reread,
            self._live.board.reopen,
            watch.say_status_every,
            self._notifier,
            watch.say,
        )
        reload.start()
        self._ending.enter_context(closing(reload))
        signal.signal(signal.SIGHUP, lambda _number, _frame: reload.ask())

    def close(self) -> None:
        """End all of it; safe to call whether started or not."""
        self._ending.close()


def _control(
    settings: Settings, title: str, record: Path, environment: Mapping[str, str], *, is_rehearsal: bool
) -> ControlServer | None:
    if not settings.control.enabled:
        return None
    about = AboutWatch(
        watch=watch_name(settings.control.name, settings.board.port),
        process=os.getpid(),
        port=settings.board.port,
        schedule=title,
        record=os.fsencode(record).decode(errors="replace"),
        software=running_software(),
        degrees=settings.watch.degrees,
        rehearsal=is_rehearsal,
    )
    try:
        return ControlServer(make_folder(environment), about)
    except ControlError as error:
        structlog.get_logger().warning(f"{error}; the watch goes on without a control socket")
        return None
