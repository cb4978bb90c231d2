"""Presses of a key -> down and up, for terminals that tell presses and repeats but no release."""

from __future__ import annotations

from enum import StrEnum

FIRST_REPEAT_MS = 700
"""A press that follows within this is the keyboard repeating a held key; the slowest usual delay is 660 ms (X11's default)."""
RELEASED_MS = 250
"""Repeats come every 25 to 100 ms; when none has come for this long, the key is up."""
LEAST_REPEATS = 2
"""From so many on, the key is known to be held rather than tapped."""


class Turn(StrEnum):
    """What the key did."""

    DOWN = "down"
    UP = "up"


class HoldKey:
    """A key that is held while one speaks, or tapped before and after."""

    def __init__(self) -> None:
        """Up."""
        self.is_down = False
        self._last_ms = 0
        self._repeats = 0
        self._ended = False

    def press(self, now_ms: int) -> Turn | None:
        """The terminal told a press."""
        if self._ended and now_ms - self._last_ms < FIRST_REPEAT_MS:
            self._last_ms = now_ms
            return None
        self._ended = False
        if not self.is_down:
            self.is_down, self._last_ms, self._repeats = True, now_ms, 0
            return Turn.DOWN
        if now_ms - self._last_ms < FIRST_REPEAT_MS:
            self._last_ms, self._repeats = now_ms, self._repeats + 1
            return None
        self.is_down = False
        return Turn.UP

    def tick(self, now_ms: int) -> Turn | None:
        """Time has passed."""
        if self.is_down and self._repeats >= LEAST_REPEATS and now_ms - self._last_ms > RELEASED_MS:
            self.is_down = False
            return Turn.UP
        return None

    def release(self) -> None:
        """Up, because the utterance ended by itself; the rest of a held key's repeats are not a new press."""
        self.is_down, self._ended = False, True
