"""Sound -> text by vosk: partial results while speaking, a closed grammar at run time, a confidence for every word."""

from __future__ import annotations

import json
import shutil
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from assistant.domain.sound import RATE_HZ, Expectation, Samples
from assistant.domain.utterance import Heard
from assistant.errors import ModelError
from assistant.recognition.closed_grammar import plain

UNKNOWN = ("[unk]", "<unk>", "<UNK>")
"""Words by which models name what is in no phrase of a closed grammar; without one every noise would become a phrase."""

RUN_TIME_GRAPH = Path("graph", "HCLr.fst")
"""What a model has whose grammar can be closed at run time; one that was compiled whole hears anything."""

FEATURES = Path("conf", "mfcc.conf")
"""Kaldi's options of how sound is turned into features; of an option said twice the last counts."""


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
        try:
            with TemporaryDirectory() as place:
                self._model: Any = vosk.Model(str(_undithered(folder, Path(place) / folder.name)))
            vosk.KaldiRecognizer(self._model, float(RATE_HZ))  # a graph that is cut short is only noticed here
        except Exception as error:
            raise ModelError(f"The vosk model in {folder} cannot be loaded: {error}.", "Fetch it again.") from error
        self._closes = (folder / RUN_TIME_GRAPH).is_file()
        self._unknown = tuple(word for word in UNKNOWN if self._knows(word))
        self._folder = folder.name

    @property
    def name(self) -> str:
        """Engine and model."""
        return f"vosk {self._folder}"

    def listen(self, expectation: Expectation, start_ms: int) -> VoskHearing:
        """Begin an utterance; terms cannot prime this engine, phrases close its grammar.

        A phrase with a word that the model does not know cannot be heard, and the rest of it must not stand for it; when
        none is left, anything is heard, as by a model whose grammar cannot be closed.
        """
        closes = self._closes and expectation.only
        phrases = tuple(p for p in expectation.phrases if closes and all(map(self._knows, plain(p).split())))
        arguments: list[Any] = [self._model, float(RATE_HZ)]
        if phrases:
            arguments.append(json.dumps([*map(plain, phrases), *self._unknown[:1]], ensure_ascii=False))
        return VoskHearing(self._library.KaldiRecognizer(*arguments), phrases, start_ms, self.name)

    def _knows(self, word: str) -> bool:
        return int(self._model.vosk_model_find_word(word)) >= 0


def _undithered(folder: Path, copy: Path) -> Path:
    """The model as links to its files, with settings by which no noise is added to the sound.

    Kaldi adds some by chance where nothing else is said, and the same sound is then not always heard the same.
    """
    shutil.copytree(folder, copy, copy_function=_linked)
    settings = copy / FEATURES
    if settings.is_file():
        told = settings.read_text(encoding="utf-8").rstrip()
        settings.unlink()
        settings.write_text(f"{told}\n--dither=0.0\n", encoding="utf-8")
    return copy


def _linked(path: str, copy: str) -> str:
    try:
        Path(copy).symlink_to(Path(path).resolve())
    except OSError:  # a system that lets not everybody make links
        shutil.copyfile(path, copy)
    return copy


class VoskHearing:
    """One utterance being recognised while it is spoken."""

    def __init__(self, engine: Any, phrases: Sequence[str], start_ms: int, name: str) -> None:
        """`engine`: a KaldiRecognizer of its own; `phrases`: those that its grammar is closed to, if it is."""
        engine.SetWords(True)
        self._engine = engine
        self._phrases = {plain(phrase): phrase for phrase in reversed(phrases)}
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
        return " ".join(word for word in (*self._text().split(), *partial.split()) if word not in UNKNOWN)

    def settle(self) -> None:
        """It hears as one speaks; there is nothing to begin."""

    def resume(self) -> None:
        """And nothing to take back."""

    def finish(self) -> Heard:
        """The utterance; the confidence is the mean of its words', what is in no phrase counting as none."""
        self._keep(self._engine.FinalResult())
        text = self._phrase(self._text()) if self._phrases else self._text()
        confidence = sum(sure for word, sure in self._words if word not in UNKNOWN) / len(self._words) if text else 0.0
        return Heard(
            text=text,
            confidence=round(min(1.0, confidence), 3),
            engine=self._name,
            start_ms=self._start_ms,
            end_ms=self._start_ms + round(1000 * self._samples / RATE_HZ),
        )

    def _phrase(self, text: str) -> str:
        """The phrase of the closed grammar that was said, once or several times over ("next, next"); "" for none.

        The engine runs phrases and pieces of them together to match what is none of them.
        """
        words = text.split()
        for times in range(1, len(words) + 1):
            once, rest = divmod(len(words), times)
            if not rest and words == words[:once] * times and " ".join(words[:once]) in self._phrases:
                return self._phrases[" ".join(words[:once])]
        return ""

    def _keep(self, result: str) -> None:
        self._words += [(word["word"], float(word["conf"])) for word in json.loads(result).get("result", [])]

    def _text(self) -> str:
        return " ".join(word for word, _ in self._words if word not in UNKNOWN)
