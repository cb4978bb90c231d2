"""Sound -> text by vosk: partial results while speaking, a closed grammar at run time, a confidence for every word."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from assistant.domain.sound import RATE_HZ, Expectation, Samples
from assistant.domain.utterance import Heard
from assistant.errors import ModelError
from assistant.recognition.closed_grammar import plain

UNKNOWN = "[unk]"
"""vosk's word for what is in no phrase of a closed grammar; without it every noise would become a phrase."""


class VoskRecogniser:
    """A model, loaded once; any number of utterances."""

    def __init__(self, folder: Path) -> None:
        """Load the model of a folder.

        Raises:
            ModelError: vosk is not installed, or the folder is no vosk model.

        """
        try:
            import vosk
        except (ImportError, OSError) as error:
            raise ModelError(f"vosk cannot be loaded: {error}.", "Install the `voice` extra.") from error
        if not (folder / "am" / "final.mdl").is_file():
            raise ModelError(f"{folder} holds no vosk model.", "Name the folder that holds `am`, `conf` and `graph`.")
        vosk.SetLogLevel(-1)
        self._library: Any = vosk
        self._model: Any = vosk.Model(str(folder))
        self._folder = folder.name

    @property
    def name(self) -> str:
        """Engine and model."""
        return f"vosk {self._folder}"

    def listen(self, expectation: Expectation, start_ms: int) -> VoskHearing:
        """Begin an utterance; terms cannot prime this engine, phrases close its grammar."""
        arguments: list[Any] = [self._model, float(RATE_HZ)]
        if expectation.phrases:
            arguments.append(json.dumps([*(plain(p) for p in expectation.phrases), UNKNOWN], ensure_ascii=False))
        return VoskHearing(self._library.KaldiRecognizer(*arguments), expectation, start_ms, self.name)


class VoskHearing:
    """One utterance being recognised while it is spoken."""

    def __init__(self, engine: Any, expectation: Expectation, start_ms: int, name: str) -> None:
        """`engine`: a KaldiRecognizer of its own."""
        engine.SetWords(True)
        self._engine = engine
        self._phrases = {plain(phrase): phrase for phrase in reversed(expectation.phrases)}
        self._start_ms, self._name = start_ms, name
        self._samples = 0
        self._words: list[tuple[str, float]] = []

    def accept(self, samples: Samples) -> str:
        """Take more sound; the text so far."""
        self._samples += len(samples)
        if self._engine.AcceptWaveform(samples.tobytes()):
            self._keep(self._engine.Result())
            return self._text()
        partial = json.loads(self._engine.PartialResult()).get("partial", "")
        return " ".join(word for word in (*self._text().split(), *partial.split()) if word != UNKNOWN)

    def finish(self) -> Heard:
        """The utterance; the confidence is the mean of its words', what is in no phrase counting as none."""
        self._keep(self._engine.FinalResult())
        text = self._text()
        confidence = sum(sure for word, sure in self._words if word != UNKNOWN) / len(self._words) if text else 0.0
        return Heard(
            text=self._phrases.get(text, text),
            confidence=round(min(1.0, confidence), 3),
            engine=self._name,
            start_ms=self._start_ms,
            end_ms=self._start_ms + round(1000 * self._samples / RATE_HZ),
        )

    def _keep(self, result: str) -> None:
        self._words += [(word["word"], float(word["conf"])) for word in json.loads(result).get("result", [])]

    def _text(self) -> str:
        return " ".join(word for word, _ in self._words if word != UNKNOWN)
