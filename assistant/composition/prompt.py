"""Question and sentences -> the texts that the language model reads."""

from __future__ import annotations

from collections.abc import Sequence

from assistant.composition.grammar import letter_of
from assistant.domain.search import Sentence

QUESTION_CHARACTERS = 200
"""A longer question is cut for the model; retrieval and the rules have seen all of it."""


def likelihood_prefix(sentence: Sentence) -> str:
    """What stands before the question when a sentence is weighed (query likelihood)."""
    return f"note: {sentence.text}\nquestion:"


def likelihood_question(question: str) -> str:
    """The question as the continuation that is scored."""
    return " " + " ".join(question.split())[:QUESTION_CHARACTERS]


def choice_prompt(question: str, sentences: Sequence[Sentence]) -> str:
    """What the model reads before it chooses lines under the grammar."""
    notes = "\n".join(f"{letter_of(i)}: {s.text}" for i, s in enumerate(sentences))
    return f"Notes:\n{notes}\n\nQuestion:{likelihood_question(question)}\n\nThe notes that answer the question:\n"
