"""What is printed while one talks: rows one after the other, for a pipe, a log or a terminal without keys."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Protocol

from assistant.rendering.spoken import SpokenLine
from assistant.talk.frame import Row, line_rows, prompt_row
from assistant.talk.state import Phase, Talk


class Screen(Protocol):
    """Shows the conversation; also everything that is spoken."""

    def heard(self, text: str, detail: str) -> None:
        """An utterance was understood."""

    def partial(self, text: str) -> None:
        """The text so far of what is being said."""

    def line(self, line: SpokenLine) -> None:
        """A line begins to be spoken."""

    def note(self, text: str) -> None:
        """The program's own word."""

    def state(self, talk: Talk, *, listening: bool) -> None:
        """Where the voice is now."""


class PrintedScreen:
    """Prints each thing once, in its order; a terminal shows partial results in place."""

    def __init__(
        self, write: Callable[[str], None], width: int, *, colour: bool = False, in_place: bool = False
    ) -> None:
        """`write` takes text with its line ends; `in_place`: a row can be written over."""
        self._write, self._width, self._colour, self._in_place = write, width, colour, in_place
        self._open = ""
        self._waited: tuple[int, Phase] | None = None

    def heard(self, text: str, detail: str) -> None:
        """Set off by an empty row."""
        self._rows([Row(text=""), Row(text=f"> {text or '(nothing)'}"), *([Row(text=f"  {detail}")] if detail else [])])

    def partial(self, text: str) -> None:
        """In place only; elsewhere the utterance itself is enough."""
        if self._in_place and text and text != self._open:
            shown = f"… {text}"[-(self._width - 1) :]
            self._write(f"\r{shown:<{len(self._open) + 2}}")
            self._open = text

    def line(self, line: SpokenLine) -> None:
        """The line as authored, in its layout."""
        self._rows(line_rows(line, self._width))

    def note(self, text: str) -> None:
        """In brackets, so that it is not taken for an answer."""
        self._rows([Row(text=f"({text})")])

    def state(self, talk: Talk, *, listening: bool) -> None:
        """Only that it waits, once."""
        here = (talk.ticket, talk.phase)
        if talk.phase is Phase.WAITING and here != self._waited and not listening:
            self._rows([prompt_row(talk, listening=False)])
        self._waited = here

    def _rows(self, rows: Iterable[Row]) -> None:
        if self._open:
            self._write(f"\r{'':<{len(self._open) + 2}}\r")
            self._open = ""
        for row in rows:
            self._write(_painted(row) + "\n" if self._colour else row.text + "\n")


def _painted(row: Row) -> str:
    code = "1;33" if row.signal else "1" if row.strong else ""
    return f"\x1b[{code}m{row.text}\x1b[0m" if code else row.text
