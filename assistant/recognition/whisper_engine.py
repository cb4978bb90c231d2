"""Sound -> text by whisper tiny.en on CTranslate2: primed with the knowledge's terms, or held to a closed list of phrases."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.domain.likelihood import logit
from assistant.domain.sound import RATE_HZ, Expectation, Samples
from assistant.domain.utterance import Heard, Reading
from assistant.errors import ModelError
from assistant.recognition.closed_grammar import Scored, choose, is_phrase, plain

SHORT_FRAMES, LONG_FRAMES = 1500, 3000
"""Windows of 10 ms frames: the model was made for 30 s; 15 s are encoded in less than half the time and heard short speech
as well, 10 s heard it worse in noise (word errors 24 against 28 % at 10 dB)."""
SHORT_MS = 13_000
"""Speech up to this long takes the short window; the model wants some silence after it."""
PRIMED_TOKENS = 160
"""Tokens of priming at most; the model's text window holds 448, half of it for what came before."""
TOKENS_A_SECOND, LEAST_TOKENS = 6.0, 10
"""How long a text can be for so much sound; fast speech has some five tokens a second, a text that loops has no end."""
NO_REPEAT = 6
"""Tokens in a row that may not come twice: the short window otherwise makes the model say short sentences again. With 4 the
text ends where somebody says a few words again ("the voltage of BG1 and the voltage of BG2"); with 6 it goes on, and 474
questions and commands in two voices and three noises are heard the same."""
BEAM = 8
"""Readings followed side by side, and kept; 8 take no measurable time more than 5."""
SURE_QUESTION = 0.8
"""Confidence below which the sound is listened to again, primed with what its readings are about. Of 100 clean questions those
found by what was heard were 94 % at 0.75 (43 listened to again), 97 at 0.8 (61), 98 at 0.85 (84), of the same typed 99; listening
again takes half a second to a second."""
READINGS = 8
"""Readings kept of one sound, those of both times together; each is searched for."""
CHANCE_WEIGHT = 0.05
"""Natural log units a token that one unit of logit of being about the knowledge is worth in the choice of the text."""
SURE_PHRASE = -0.7
"""Mean log-probability from which free text that is a phrase of the list is taken without forcing the others on the sound."""
FRAMES_A_SECOND, FRAMES_AFTER = 50, 25
"""Encoder frames, and how many after the sound are kept when phrases are forced on it: the silence behind costs five times the
time of the speech and says nothing."""
ALIGNED_FRAMES = 2
"""Where in the sound a phrase lies is not asked; the engine aligns this little of it."""
BATCH = 40
"""Phrases forced at once."""

FILES = ("model.bin", "tokenizer.json")
"""What a folder must hold; the engine would look for a tokenizer that is not there on the network."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decoded:
    """Free text: its readings that differ in words, likeliest first, and the chance that there was no speech at all."""

    readings: tuple[Reading, ...]
    no_speech: float

    @property
    def text(self) -> str:
        """The likeliest."""
        return self.readings[0].text

    @property
    def log_probability(self) -> float:
        """Of the likeliest, the mean of its tokens."""
        return self.readings[0].log_probability


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
        if not all((folder / name).is_file() for name in FILES):
            raise ModelError(f"{folder} holds no whisper model.", "Run `handlamp models fetch recogniser-whisper`.")
        try:
            self._model: Any = WhisperModel(
                str(folder), device="cpu", compute_type="int8", cpu_threads=threads, local_files_only=True
            )
        except Exception as error:  # the tokenizer's library raises nothing more specific
            raise ModelError(f"The whisper model in {folder} cannot be loaded: {error}", "Fetch it again.") from error
        self._tokens: Any = Tokenizer(self._model.hf_tokenizer, multilingual=False)
        self._priors: dict[str, float] = {}

    @property
    def name(self) -> str:
        """Engine and model."""
        return "whisper tiny.en"

    def listen(self, expectation: Expectation, start_ms: int) -> WhisperHearing:
        """Begin an utterance; what there is to compute before it is heard is computed now, while it is spoken."""
        self._know_priors(expectation.phrases)
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
            num_hypotheses=BEAM,
            length_penalty=1.0,
            max_length=len(prompt) + LEAST_TOKENS + round(TOKENS_A_SECOND * seconds),
            no_repeat_ngram_size=NO_REPEAT,
            repetition_penalty=1.0,
            return_scores=True,
            return_no_speech_prob=True,
            suppress_blank=True,
            suppress_tokens=[-1],
        )[0]
        found = (self._reading(ids, score) for ids, score in zip(result.sequences_ids, result.scores, strict=True))
        return Decoded(readings=distinct(tuple(found)), no_speech=float(result.no_speech_prob))

    def _reading(self, ids: Sequence[int], score: float) -> Reading:
        text = undoubled(self._tokens.decode([i for i in ids if i < self._tokens.eot]).strip())
        mean = score * len(ids) / (len(ids) + 1) if ids else -10.0  # the end is a token too
        return Reading(text=text, log_probability=float(mean))

    def score(self, encoded: Any, phrases: Sequence[str], seconds: float) -> tuple[Scored, ...]:
        """Each phrase of a list held against so many seconds of sound: forced on it, not searched for."""
        self._know_priors(phrases)
        scores = self.forced(encoded, [_written(phrase) for phrase in phrases], seconds)
        return tuple(
            Scored(phrase=phrase, log_probability=score, prior=self._priors[phrase])
            for phrase, score in zip(phrases, scores, strict=True)
        )

    def _know_priors(self, phrases: Sequence[str]) -> None:
        new = [phrase for phrase in phrases if phrase not in self._priors]
        if new:
            silence = self.encode(np.zeros(RATE_HZ, dtype=np.int16))
            written = [_written(phrase) for phrase in new]
            self._priors.update(zip(new, self.forced(silence, written, 1.0), strict=True))

    def forced(self, encoded: Any, texts: Sequence[str], seconds: float) -> list[float]:
        """Mean log-probability a token of each text, unprimed, forced on so many seconds of sound and not searched for."""
        import ctranslate2

        whole: NDArray[np.float32] = np.array(encoded)
        one = whole[:, : round(FRAMES_A_SECOND * seconds) + FRAMES_AFTER]
        scores = []
        for at in range(0, len(texts), BATCH):
            tokens = [self._tokens.encode(f" {text.strip()}") for text in texts[at : at + BATCH]]
            batch = ctranslate2.StorageView.from_array(np.repeat(one, len(tokens), axis=0))
            aligned = self._model.model.align(
                batch, list(self._tokens.sot_sequence), tokens, [ALIGNED_FRAMES] * len(tokens)
            )
            scores += [
                sum(math.log(max(p, 1e-9)) for p in a.text_token_probs) / len(t)
                for a, t in zip(aligned, tokens, strict=True)
            ]
        return scores

    def _primed(self, terms: Sequence[str]) -> list[int]:
        if not terms:
            return []
        tokens = list(self._tokens.encode(" " + " ".join(terms)))
        return [self._tokens.sot_prev, *tokens[:PRIMED_TOKENS]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Understood:
    """The text, its confidence 0..1, and the readings among which it was chosen."""

    text: str
    confidence: float
    readings: tuple[Reading, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """So many seconds of sound, encoded, and what was first heard in them."""

    encoded: Any
    seconds: float
    free: Decoded


@dataclass(slots=True, kw_only=True)
class WhisperHearing:
    """One utterance; it is understood when it has ended, so there are no partial results."""

    recogniser: WhisperRecogniser
    expectation: Expectation
    start_ms: int
    _blocks: list[Samples] = field(default_factory=list)
    _settled: Taken | None = None

    def accept(self, samples: Samples) -> str:
        """Keep the sound."""
        self._blocks.append(samples)
        return ""

    def settle(self) -> None:
        """Take in what was said so far, in the time in which it is waited whether more comes."""
        samples = self._samples()
        self._settled = self._taken(samples) if len(samples) else None

    def resume(self) -> None:
        """More came."""
        self._settled = None

    def _samples(self) -> Samples:
        return np.concatenate(self._blocks) if self._blocks else np.zeros(0, dtype=np.int16)

    def finish(self) -> Heard:
        """The utterance: with phrases expected, the one that it is; else, or when it is none of them, what was freely heard."""
        samples = self._samples()
        end_ms = self.start_ms + round(1000 * len(samples) / RATE_HZ)
        nothing = Understood(text="", confidence=0.0)
        understood = self._understand(self._settled or self._taken(samples)) if len(samples) else nothing
        return Heard(
            text=understood.text,
            confidence=round(understood.confidence, 3),
            engine=self.recogniser.name,
            start_ms=self.start_ms,
            end_ms=end_ms,
            readings=understood.readings,
        )

    def _taken(self, samples: Samples) -> Taken:
        encoded = self.recogniser.encode(samples)
        seconds = len(samples) / RATE_HZ
        free = self.recogniser.decode(encoded, self.expectation.terms, seconds)
        return Taken(encoded=encoded, seconds=seconds, free=free)

    def _understand(self, taken: Taken) -> Understood:
        encoded, seconds, free = taken.encoded, taken.seconds, taken.free
        phrases = self.expectation.phrases
        sure = is_phrase(free.text, phrases) and free.log_probability >= SURE_PHRASE
        if phrases and not sure:
            chosen = choose(free.readings[0], self.recogniser.score(encoded, phrases, seconds))
            if chosen.phrase:
                return Understood(text=chosen.phrase, confidence=chosen.confidence)
        if is_noise(free):
            return Understood(text="", confidence=0.0)
        if sure:  # nothing to listen for again: no other reading may be preferred to a phrase of the list
            said = next(phrase for phrase in phrases if plain(phrase) == plain(free.text))
            return Understood(text=said, confidence=_confidence(free.log_probability, free.no_speech))
        return self._freely(encoded, seconds, free)

    def _freely(self, encoded: Any, seconds: float, free: Decoded) -> Understood:
        """Any words: listened to again when they are not sure, and chosen by the sound and by what the knowledge is about."""
        outlook = self.expectation.outlook
        confidence = _confidence(free.log_probability, free.no_speech)
        if outlook is None or confidence >= SURE_QUESTION:
            return Understood(text=free.text, confidence=confidence)
        first = outlook([reading.text for reading in free.readings])
        if first.settled:
            return Understood(text=free.text, confidence=confidence)
        again = self.recogniser.decode(encoded, first.terms, seconds)
        both = distinct(sorted((*free.readings, *again.readings), key=lambda r: -r.log_probability))
        readings = self._weighed(encoded, seconds, both)
        chances = dict(zip((r.text for r in free.readings), first.chances, strict=True))
        new = [r.text for r in readings if r.text not in chances]
        chances.update(zip(new, outlook(new).chances, strict=True))
        best = max(readings, key=lambda r: r.log_probability + CHANCE_WEIGHT * logit(chances[r.text]))
        as_found = next(r.log_probability for r in both if r.text == best.text)
        sure = _confidence(as_found, free.no_speech)  # tells right from wrong better than what was weighed
        return Understood(text=best.text, confidence=sure, readings=readings)

    def _weighed(self, encoded: Any, seconds: float, readings: Sequence[Reading]) -> tuple[Reading, ...]:
        """The READINGS likeliest by what they were found with and, as much, by the sound alone without any priming.

        What was primed with its own subject likes its words too well: word errors 12.1 and 10.3 % on 100 clean questions,
        without and with the sound alone.
        """
        alone = self.recogniser.forced(encoded, [reading.text for reading in readings], seconds)
        weighed = [
            Reading(text=r.text, log_probability=(r.log_probability + score) / 2)
            for r, score in zip(readings, alone, strict=True)
        ]
        return tuple(sorted(weighed, key=lambda r: -r.log_probability)[:READINGS])


def _written(phrase: str) -> str:
    """As the model writes a phrase that is a whole utterance."""
    return f"{phrase[:1].upper()}{phrase[1:]}."


def _confidence(log_probability: float, no_speech: float) -> float:
    return math.exp(log_probability) * (1.0 - no_speech)


def distinct(readings: Iterable[Reading]) -> tuple[Reading, ...]:
    """Readings that differ in more than case and punctuation, the first of equals, in their order."""
    found: dict[str, Reading] = {}
    for reading in readings:
        found.setdefault(plain(reading.text), reading)
    return tuple(found.values())


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
