"""Sound -> text by whisper tiny.en on CTranslate2: primed with the knowledge's terms, or held to a closed list of phrases."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.domain.sound import RATE_HZ, Expectation, Samples
from assistant.domain.utterance import Heard
from assistant.errors import ModelError
from assistant.recognition.closed_grammar import Scored, choose, is_phrase, nearest, plain

SHORT_FRAMES, LONG_FRAMES = 1500, 3000
"""Windows of 10 ms frames: the model was made for 30 s; 15 s are encoded in less than half the time and heard short speech
as well, 10 s heard it worse in noise (word errors 24 against 28 % at 10 dB)."""
SHORT_MS = 13_000
"""Speech up to this long takes the short window; the model wants some silence after it."""
PRIMED_TOKENS = 160
"""Tokens of priming at most; the model's text window holds 448, half of it for what came before."""
TOKENS_A_SECOND, LEAST_TOKENS = 6.0, 10
"""How long a text can be for so much sound; fast speech has some five tokens a second, a text that loops has no end."""
NO_REPEAT = 4
"""Tokens in a row that may not come twice: the short window otherwise makes the model say short sentences again."""
BEAM = 5
SURE_PHRASE = -0.7
"""Mean log-probability from which free text that is a phrase of the list is taken without forcing the others on the sound."""
MOST_PHRASES = 12
"""Phrases of a closed list that are forced on the sound, those most like the free text; scoring all of them is slow."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decoded:
    """Free text, its mean log-probability a token, and the chance that there was no speech at all."""

    text: str
    log_probability: float
    no_speech: float


class WhisperRecogniser:
    """The model, loaded once; one utterance at a time."""

    def __init__(self, folder: Path, threads: int = 2) -> None:
        """Load the CTranslate2 files of a folder.

        Raises:
            ModelError: faster-whisper is not installed, or the folder is no such model.

        """
        try:
            from faster_whisper import WhisperModel
            from faster_whisper.tokenizer import Tokenizer
        except (ImportError, OSError) as error:
            raise ModelError(f"faster-whisper cannot be loaded: {error}.", "Install the `voice` extra.") from error
        if not (folder / "model.bin").is_file():
            raise ModelError(f"{folder} holds no whisper model.", "Run `handlamp models fetch recogniser-whisper`.")
        try:
            self._model: Any = WhisperModel(
                str(folder), device="cpu", compute_type="int8", cpu_threads=threads, local_files_only=True
            )
        except (RuntimeError, ValueError, OSError) as error:
            raise ModelError(f"The whisper model in {folder} cannot be loaded: {error}", "Fetch it again.") from error
        self._tokens: Any = Tokenizer(self._model.hf_tokenizer, multilingual=False)

    @property
    def name(self) -> str:
        """Engine and model."""
        return "whisper tiny.en"

    def listen(self, expectation: Expectation, start_ms: int) -> WhisperHearing:
        """Begin an utterance."""
        return WhisperHearing(recogniser=self, expectation=expectation, start_ms=start_ms)

    def encode(self, samples: Samples) -> Any:
        """Encoder output of one utterance; what is beyond 30 s is left out."""
        from faster_whisper.audio import pad_or_trim

        frames = SHORT_FRAMES if 1000 * len(samples) <= SHORT_MS * RATE_HZ else LONG_FRAMES
        sound = samples[: LONG_FRAMES * RATE_HZ // 100].astype(np.float32) / 32768
        return self._model.encode(pad_or_trim(self._model.feature_extractor(sound), frames))

    def decode(self, encoded: Any, terms: Sequence[str], seconds: float) -> Decoded:
        """Free text of so many seconds of sound, primed with the terms."""
        prompt = [*self._primed(terms), *self._tokens.sot_sequence, self._tokens.no_timestamps]
        result = self._model.model.generate(
            encoded,
            [prompt],
            beam_size=BEAM,
            length_penalty=1.0,
            max_length=len(prompt) + LEAST_TOKENS + round(TOKENS_A_SECOND * seconds),
            no_repeat_ngram_size=NO_REPEAT,
            repetition_penalty=1.0,
            return_scores=True,
            return_no_speech_prob=True,
            suppress_blank=True,
            suppress_tokens=[-1],
        )[0]
        ids = result.sequences_ids[0]
        text = undoubled(self._tokens.decode([i for i in ids if i < self._tokens.eot]).strip())
        mean = result.scores[0] * len(ids) / (len(ids) + 1) if ids else -10.0
        return Decoded(text=text, log_probability=float(mean), no_speech=float(result.no_speech_prob))

    def score(self, encoded: Any, phrases: Sequence[str]) -> tuple[Scored, ...]:
        """Mean log-probability a token of each phrase given the sound: the phrase is forced, not searched for."""
        import ctranslate2

        one: NDArray[np.float32] = np.array(encoded)
        batch = ctranslate2.StorageView.from_array(np.repeat(one, len(phrases), axis=0))
        tokens = [self._tokens.encode(f" {phrase[:1].upper()}{phrase[1:]}.") for phrase in phrases]
        aligned = self._model.model.align(batch, list(self._tokens.sot_sequence), tokens, [one.shape[1]] * len(phrases))
        return tuple(
            Scored(phrase=phrase, log_probability=sum(math.log(max(p, 1e-9)) for p in a.text_token_probs) / len(t))
            for phrase, a, t in zip(phrases, aligned, tokens, strict=True)
        )

    def _primed(self, terms: Sequence[str]) -> list[int]:
        if not terms:
            return []
        tokens = list(self._tokens.encode(" " + " ".join(terms)))
        return [self._tokens.sot_prev, *tokens[:PRIMED_TOKENS]]


@dataclass(slots=True, kw_only=True)
class WhisperHearing:
    """One utterance; it is understood when it has ended, so there are no partial results."""

    recogniser: WhisperRecogniser
    expectation: Expectation
    start_ms: int
    _blocks: list[Samples] = field(default_factory=list)

    def accept(self, samples: Samples) -> str:
        """Keep the sound."""
        self._blocks.append(samples)
        return ""

    def finish(self) -> Heard:
        """The utterance: with phrases expected, the one that it is; else, or when it is none of them, what was freely heard."""
        samples = np.concatenate(self._blocks) if self._blocks else np.zeros(0, dtype=np.int16)
        end_ms = self.start_ms + round(1000 * len(samples) / RATE_HZ)
        text, confidence = self._understand(samples) if len(samples) else ("", 0.0)
        return Heard(
            text=text,
            confidence=round(confidence, 3),
            engine=self.recogniser.name,
            start_ms=self.start_ms,
            end_ms=end_ms,
        )

    def _understand(self, samples: Samples) -> tuple[str, float]:
        encoded = self.recogniser.encode(samples)
        free = self.recogniser.decode(encoded, self.expectation.terms, len(samples) / RATE_HZ)
        confidence = math.exp(free.log_probability) * (1.0 - free.no_speech)
        phrases = self.expectation.phrases
        sure = is_phrase(free.text, phrases) and free.log_probability >= SURE_PHRASE
        if phrases and not sure:
            scored = self.recogniser.score(encoded, nearest(free.text, phrases, MOST_PHRASES))
            chosen = choose(free.text, free.log_probability, phrases, scored)
            if chosen.phrase:
                return chosen.phrase, chosen.confidence
        return ("", 0.0) if is_noise(free) else (free.text, confidence)


def undoubled(text: str) -> str:
    """The text once, when it is the same words two or more times over: nobody says a sentence so, the short window does."""
    words = text.split()
    plain_words = [plain(word) for word in words]
    for length in range(2, len(words) // 2 + 1):
        part = plain_words[:length]
        repeated = part * (len(words) // length + 1)
        if len(words) >= 2 * length and plain_words == repeated[: len(words)] and len(words) % length == 0:
            return " ".join(words[:length])
    return text


NO_SPEECH = 0.6
UNLIKELY = -1.0


def is_noise(free: Decoded) -> bool:
    """No words, or words that the model itself takes for none (both thresholds are those of Radford et al. 2022)."""
    worded = any(c.isalnum() for c in free.text)
    return not worded or (free.no_speech > NO_SPEECH and free.log_probability < UNLIKELY)
