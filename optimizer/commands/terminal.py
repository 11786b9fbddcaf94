"""What long work needs of a terminal: a line that says how it goes on, and a Ctrl-C that is not forgotten."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

from rich.console import Console
from rich.status import Status

from optimizer.choose.search import Progress
from optimizer.units import money


class Interrupts:
    """Remembers that Ctrl-C was pressed: a search answers it with the best it has, which is not what a study wants."""

    def __init__(self) -> None:
        self.pressed = False

    def _note(self, signum: int, frame: FrameType | None) -> None:
        self.pressed = True
        raise KeyboardInterrupt

    @contextmanager
    def watched(self) -> Iterator[None]:
        """Listen to Ctrl-C while the block runs."""
        before = signal.signal(signal.SIGINT, self._note)
        try:
            yield
        finally:
            signal.signal(signal.SIGINT, before)

    def check(self) -> None:
        """Go on only if Ctrl-C was not pressed.

        Raises:
            KeyboardInterrupt: it was.
        """
        if self.pressed:
            raise KeyboardInterrupt


class ProgressLine:
    """One line about long work, only for a person at a terminal."""

    def __init__(self, console: Console, currency: str) -> None:
        self.currency = currency
        self.status: Status | None = console.status("") if console.is_terminal else None
        self.doing = ""

    @contextmanager
    def shown(self) -> Iterator[None]:
        """Show the line while the block runs."""
        if self.status is None:
            yield
            return
        with self.status:
            yield

    def start(self, doing: str) -> None:
        """Name what is being done now."""
        self.doing = doing
        self._say(doing)

    def __call__(self, progress: Progress) -> None:
        """Tell how a search goes on."""
        best = "none yet" if progress.best is None else money(progress.best.money_ct, self.currency)
        self._say(f"{self.doing}: best {best}, {progress.left} of {progress.designs} designs left")

    def _say(self, text: str) -> None:
        if self.status is not None:
            self.status.update(text)
