"""Settings -> the recogniser in use, and why it is that one."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from assistant.domain.sound import Recogniser
from assistant.errors import ModelMissing
from assistant.weights.shelf import Shelf

VOSK, WHISPER = "recogniser-vosk", "recogniser-whisper"
_LIBRARIES = {VOSK: "vosk", WHISPER: "faster_whisper"}
ORDER = (VOSK, WHISPER)
"""The first that has a model is used: vosk hears while one speaks, and only what can be said."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A recogniser, and why it cannot be used; "" when it can."""

    role: str
    why_not: str


def candidates(shelf: Shelf) -> tuple[Candidate, ...]:
    """Every recogniser in the order in which they are preferred, found without loading any."""
    return tuple(Candidate(role=role, why_not=_why_not(shelf, role)) for role in ORDER)


def _why_not(shelf: Shelf, role: str) -> str:
    if importlib.util.find_spec(_LIBRARIES[role]) is None:
        return "its library is not installed (the `voice` extra)"
    return "" if shelf.find(role) is not None else "its model is not installed"


def chosen(shelf: Shelf) -> str:
    """One line: which recogniser is used, and why."""
    seen = candidates(shelf)
    used = next((c for c in seen if not c.why_not), None)
    passed = "; ".join(f"not {c.role}: {c.why_not}" for c in seen if c.why_not)
    if used is None:
        return f"no recogniser: {passed}. Run `handlamp models fetch {WHISPER}`."
    return f"{used.role} is used{f' ({passed})' if passed else ', the first of those installed'}"


def make_recogniser(shelf: Shelf, only: str = "") -> Recogniser:
    """The first recogniser that has a model, or the one named by its role.

    Raises:
        ModelMissing: none has.
        ModelError: its files are corrupt.

    """
    builders: dict[str, Callable[[Path], Recogniser]] = {VOSK: _vosk, WHISPER: _whisper}
    for candidate in candidates(shelf):
        if not candidate.why_not and only in ("", candidate.role):
            return builders[candidate.role](shelf.path(candidate.role))
    reasons = "; ".join(f"{c.role}: {c.why_not}" for c in candidates(shelf))
    raise ModelMissing(
        f"Speech cannot be recognised ({reasons}).",
        f"Run `handlamp models fetch {WHISPER}`, or type.",
    )


def _vosk(folder: Path) -> Recogniser:
    from assistant.recognition.vosk_engine import VoskRecogniser

    return VoskRecogniser(folder)


def _whisper(folder: Path) -> Recogniser:
    from assistant.recognition.whisper_engine import WhisperRecogniser

    return WhisperRecogniser(folder)
