"""`teachrig bench`: the bench screen, on a terminal; whatever ends it, relays first."""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from argparse import Namespace
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from shutil import rmtree
from tempfile import TemporaryDirectory
from types import FrameType
from typing import TYPE_CHECKING

from rig.cli.exits import Exit, GiveUp, narrate
from rig.cli.inputs import data_folder, open_library, read_profile, signed_in_by
from rig.cli.stops import STOPS
from rig.journal import JournalError
from rig.session import JOURNAL_NAME
from wiring.tomlfile import DataFileError

if TYPE_CHECKING:
    from rig.screen.app import BenchApp
    from rig.screen.setup import Bench
    from rig.screen.view.wording import Words
    from rig.screen.work import OrderWork

# A terminal that is gone may keep the screen from ending in order.
_PATIENCE_S = 6.0


def command(options: Namespace) -> int:
    """Show the screen until the person leaves."""
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        words = "the bench screen needs a terminal; allowed: run it in one, or use `teachrig run`"
        raise GiveUp(Exit.BAD_INPUT, words)
    look = _look(options)
    with TemporaryDirectory(prefix="teachrig-practice-", ignore_cleanup_errors=True) as practised:
        app = _app(options, look, Path(practised) / JOURNAL_NAME)
        ending = _Ending(app, Path(practised))
        try:
            with ending.signals_caught():
                code = app.run() or 0
        finally:
            # Whatever has ended the screen ends the work: nobody would see a request any more.
            app.end_work("the screen has ended")
    for words in [] if app.work is None else app.work.closing_words():
        narrate(words)
    return ending.code or code or app.return_code or Exit.DONE


def _look(options: Namespace) -> str:
    no_colour = bool(os.environ.get("NO_COLOR"))
    look: str = options.look or ("plain" if no_colour else "dark")
    if look == "plain":
        os.environ["NO_COLOR"] = "1"  # what the library of the screen goes by
    else:
        os.environ.pop("NO_COLOR", None)
    return look


def _app(options: Namespace, look: str, practised: Path) -> BenchApp:
    from rig.screen.app import BenchApp
    from rig.screen.looks import LOOKS
    from rig.screen.setup import CannotStart, practice
    from rig.screen.view.wording import Words, decimal_mark_of_the_terminal, language_of_the_terminal
    from rig.screen.work import OrderWork

    language = options.language or language_of_the_terminal()
    words = Words(language, decimal_mark_of_the_terminal(language))
    bench = _bench(options)
    app = BenchApp(words, LOOKS[look], bench, bell=options.bell, flash=options.flash)
    app.signed_in = signed_in_by(options.by)
    # A study names who measures, trial by trial.
    app.asks_who = options.by is None and not options.practice and options.study is None
    try:
        if options.practice:
            app.first = OrderWork(practice(bench.library, options.speed or 1, practised), words)
        elif options.study is not None:
            app.first = _study(bench, options.study or None, words)
        elif options.lot is not None:
            from rig.screen.lot_setup import lot_setup
            from rig.screen.lot_work import LotWork

            app.first = LotWork(lot_setup(bench, options.lot), words)
        elif options.order is not None:
            app.first = OrderWork(bench.order(options.order), words)
    except (CannotStart, DataFileError, JournalError) as refused:
        raise GiveUp(Exit.BAD_INPUT, str(refused)) from None
    return app


def _study(bench: Bench, number: str | None, words: Words) -> OrderWork:
    from rig.screen.study_work import StudyWork, study_setup

    return StudyWork(study_setup(bench, number), words)


def _bench(options: Namespace) -> Bench:
    from rig.screen.setup import Bench

    if options.lot and (options.order or options.practice):
        raise GiveUp(Exit.BAD_INPUT, "--lot names what is worked on; allowed: leave ORDER and --practice out")
    if options.practice and (options.order or options.rig or options.bench):
        words = "--practice brings its own order and bench; allowed: leave ORDER, --rig and --bench out"
        raise GiveUp(Exit.BAD_INPUT, words)
    if options.study is not None and (options.order or options.practice):
        words = "--study brings its own order; allowed: leave ORDER and --practice out"
        raise GiveUp(Exit.BAD_INPUT, words)
    library = open_library()
    profile = read_profile(options.rig, library)
    simulated = profile.back_end == "simulated"
    journal = data_folder(options.data) / JOURNAL_NAME
    if not simulated and (options.bench or options.speed):
        raise GiveUp(
            Exit.BAD_INPUT,
            f"--bench and --speed belong to the simulated bench; {profile.name} is a board (given --rig "
            f"{options.rig}); allowed: --rig simulated, or leave them out",
        )
    holds = (options.bench or "sound") if simulated else None
    return Bench(library, profile, holds, journal, options.speed or 1)


class _Ending:
    """Ends the work at a signal: relays in the handler itself, the rest from a thread of its own."""

    def __init__(self, app: BenchApp, practised: Path) -> None:
        self.code: Exit | None = None
        self._app = app
        self._practised = practised

    @contextmanager
    def signals_caught(self) -> Iterator[None]:
        before = {number: signal.signal(number, self._stop) for number in STOPS}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    def _stop(self, number: int, _: FrameType | None) -> None:
        if self.code is not None:
            return
        self.code = STOPS[signal.Signals(number)]
        words = f"stopped by {signal.Signals(number).name}"
        self._app.stop_for_good(words)
        threading.Thread(target=self._end, args=(words,), name="ending", daemon=True).start()

    def _end(self, words: str) -> None:
        self._app.end_work(words)
        code = self.code or Exit.DONE
        if code is not Exit.HANGUP:
            self._app.ends_with = int(code)
            time.sleep(_PATIENCE_S)
        rmtree(self._practised, ignore_errors=True)
        # The record is whole and everything is off; a terminal that is gone may never let the screen end.
        os._exit(code)
