"""Work of known length -> a bar on standard error, only where somebody looks."""

from __future__ import annotations

import sys
from types import TracebackType
from typing import Self

WIDTH = 40


def say(text: str) -> None:
    """A note beside the tables, which go to standard output."""
    print(text, file=sys.stderr)


class Progress:
    """Counts ticks; draws at most a hundred times."""

    def __init__(self, what: str, total: int) -> None:
        """`what` is being done `total` times."""
        self._what, self._total, self._done, self._shown = what, max(1, total), 0, -1
        self._live = sys.stderr.isatty()

    def __enter__(self) -> Self:
        """Draw the empty bar."""
        self._draw()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End the line."""
        if self._live:
            print(file=sys.stderr)

    def tick(self) -> None:
        """One more is done."""
        self._done += 1
        self._draw()

    def _draw(self) -> None:
        percent = 100 * self._done // self._total
        if self._live and percent != self._shown:
            self._shown = percent
            filled = WIDTH * percent // 100
            bar = "#" * filled + "." * (WIDTH - filled)
            print(f"\r{self._what} [{bar}] {self._done}/{self._total}", end="", file=sys.stderr, flush=True)
