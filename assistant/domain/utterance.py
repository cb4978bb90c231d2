"""What the technician said or typed."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One way to understand a sound, and its mean log-probability a token."""

    text: str
    log_probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """How an utterance was recognised from sound: confidence 0..1, times in ms from the start of the sound.

    `readings`: what else it may have been, likeliest first and the text among them, where the recogniser was not sure; they
    help the search and decide nothing.
    """

    text: str
    confidence: float
    engine: str
    start_ms: int
    end_ms: int
    readings: tuple[Reading, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Utterance:
    """One question or command as text; `heard` is None when it was typed, `cut` when it was shortened.

    `at_s`: when it was said, in seconds of a clock that only goes forward; None where lines come without their time, as from
    a file.
    """

    text: str
    heard: Heard | None = None
    cut: bool = False
    at_s: float | None = None
