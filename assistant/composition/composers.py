"""The ways to choose authored sentences: the passage as it is, by vectors, by query likelihood, by grammar, blended."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from assistant.composition.grammar import LETTERS, grammar_of, parse_choice
from assistant.composition.prompt import choice_prompt, likelihood_prefix, likelihood_question
from assistant.domain.draft import Draft
from assistant.domain.search import Sentence
from assistant.domain.stages import Composer, Encoder, LanguageModel
from assistant.errors import ModelError

MOST_CHOSEN = 3
CHARACTER_BUDGET = 480
"""Characters of sentences that the language model weighs: about 140 tokens with the question, 0.7 s on two cores.
The budget, not the clock, keeps the time; so the same question always weighs the same sentences."""
BLEND = 0.5
"""Share of the language model in the blend (measured by `python -m eval compose`)."""
CLEAR = 0.5
"""A further sentence is brought forward only if its blended score is within this much of the best (z-scores)."""


class PassageComposer:
    """The authored passage in the author's order."""

    name = "passage"

    def compose(self, question: str, sentences: Sequence[Sentence]) -> Draft:
        """No sentence is brought forward."""
        del question, sentences
        return Draft(sentences=(), composer=self.name)


class EncoderComposer:
    """Sentences by cosine to the question."""

    name = "encoder"

    def __init__(self, encoder: Encoder) -> None:
        """Keep the encoder."""
        self._encoder = encoder

    def compose(self, question: str, sentences: Sequence[Sentence]) -> Draft:
        """The sentences nearest to the question."""
        scores = similarities(self._encoder, question, sentences)
        return Draft(sentences=pick(sentences, scores), composer=self.name)


class LikelihoodComposer:
    """Sentences by how likely the question is after each; the nearest by vectors are weighed."""

    def __init__(self, encoder: Encoder, model: LanguageModel, share: float, name: str) -> None:
        """`share` of the language model in the score, the rest is the encoder's: 1.0 is query likelihood alone."""
        self._encoder = encoder
        self._model = model
        self._share = share
        self.name = name

    def compose(self, question: str, sentences: Sequence[Sentence]) -> Draft:
        """The sentences that the blended score puts first.

        Raises:
            ModelError: the language model failed.

        """
        near = similarities(self._encoder, question, sentences)
        shortlist = within_budget(sentences, near)
        weighed = self._model.likelihoods(
            [likelihood_prefix(sentences[i]) for i in shortlist], likelihood_question(question)
        )
        blended = self._share * standard(weighed) + (1 - self._share) * standard([near[i] for i in shortlist])
        chosen = pick([sentences[i] for i in shortlist], blended.tolist())
        return Draft(sentences=chosen, composer=self.name)


class GrammarComposer:
    """The language model writes under a grammar that can produce nothing but authored sentences."""

    name = "grammar"

    def __init__(self, encoder: Encoder, model: LanguageModel) -> None:
        """Keep both models."""
        self._encoder = encoder
        self._model = model

    def compose(self, question: str, sentences: Sequence[Sentence]) -> Draft:
        """The sentences that the model decoded.

        Raises:
            ModelError: the language model failed, or finished no sentence.

        """
        near = similarities(self._encoder, question, sentences)
        offered = [sentences[i] for i in sorted(within_budget(sentences, near))][: len(LETTERS)]
        text = self._model.choose(choice_prompt(question, offered), grammar_of(offered, MOST_CHOSEN), 120)
        chosen = parse_choice(text, offered)
        if not chosen:
            raise ModelError("The language model finished no sentence.", "The authored passage is shown.")
        return Draft(sentences=chosen, composer=self.name)


class GuardedComposer:
    """Takes a composer's draft if it comes and comes in time; else the authored passage."""

    def __init__(
        self,
        inner: Composer,
        fallback: Composer,
        deadline_ms: int,
        clock_ms: Callable[[], float],
    ) -> None:
        """`inner` is any composer; `deadline_ms` a net for a stalled machine, not the budget."""
        self._inner = inner
        self._fallback = fallback
        self._deadline_ms = deadline_ms
        self._clock_ms = clock_ms
        self.name = inner.name

    def compose(self, question: str, sentences: Sequence[Sentence]) -> Draft:
        """The draft, or the fallback's with a note why."""
        started = self._clock_ms()
        try:
            draft = self._inner.compose(question, sentences)
        except ModelError as error:
            return self._instead(question, sentences, error.message)
        if self._clock_ms() - started > self._deadline_ms:
            return self._instead(question, sentences, "the language model was later than its deadline")
        return draft

    def _instead(self, question: str, sentences: Sequence[Sentence], why: str) -> Draft:
        draft = self._fallback.compose(question, sentences)
        return Draft(sentences=draft.sentences, composer=draft.composer, note=why)


def similarities(encoder: Encoder, question: str, sentences: Sequence[Sentence]) -> list[float]:
    """Cosine of each sentence to the question."""
    vectors = encoder.encode([question, *(s.text for s in sentences)])
    return [float(x) for x in vectors[1:] @ vectors[0]]


def within_budget(sentences: Sequence[Sentence], scores: Sequence[float]) -> list[int]:
    """Places of the best sentences that fit the budget, best first; always at least one."""
    order = sorted(range(len(sentences)), key=lambda i: (-scores[i], i))
    taken: list[int] = []
    spent = 0
    for i in order:
        spent += len(sentences[i].text)
        if taken and (spent > CHARACTER_BUDGET or len(taken) == len(LETTERS)):
            break
        taken.append(i)
    return taken


def pick(sentences: Sequence[Sentence], scores: Sequence[float]) -> tuple[Sentence, ...]:
    """The best sentence, and those nearly as good, three at most; ties by place."""
    if not sentences:
        return ()
    spread = standard(scores)
    order = sorted(range(len(sentences)), key=lambda i: (-scores[i], i))
    best = spread[order[0]]
    return tuple(sentences[i] for i in order[:MOST_CHOSEN] if best - spread[i] <= CLEAR)


def standard(scores: Sequence[float]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """float64 (n,), mean 0 and deviation 1; zeros when all are equal."""
    array = np.asarray(scores, dtype=np.float64)
    deviation = float(array.std())
    return (array - array.mean()) / deviation if deviation > 1e-12 else np.zeros_like(array)
