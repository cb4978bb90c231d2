"""A small GGUF language model through llama.cpp: how likely a question is after a sentence, and bounded decoding."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import llama_cpp
import numpy as np
from llama_cpp.llama_grammar import LlamaGrammar

from assistant.errors import ModelError

CONTEXT = 1024
MOST_SEQUENCES = 16
THREADS = 2


class LlamaModel:
    """One model, two contexts: one scores several sequences in a single batch, one decodes."""

    def __init__(self, path: Path) -> None:
        """Load the file.

        Raises:
            ModelError: llama.cpp cannot load it.

        """
        try:
            self._llama = llama_cpp.Llama(
                str(path), n_ctx=CONTEXT, n_threads=THREADS, n_threads_batch=THREADS, seed=0, verbose=False
            )
        except (ValueError, AssertionError, OSError) as error:
            raise ModelError(
                f"The language model {path.name} cannot be loaded: {error}",
                "Run `handlamp models verify language-model`.",
            ) from error
        self._name = path.name
        self._vocabulary_size: int = self._llama.n_vocab()
        self._context = self._scoring_context()

    @property
    def name(self) -> str:
        """Name of the model file."""
        return self._name

    def _scoring_context(self) -> object:
        params = llama_cpp.llama_context_default_params()
        params.n_ctx = CONTEXT
        params.n_batch = CONTEXT
        params.n_ubatch = CONTEXT
        params.n_seq_max = MOST_SEQUENCES
        params.kv_unified = True
        params.n_threads = THREADS
        params.n_threads_batch = THREADS
        context = llama_cpp.llama_init_from_model(self._llama.model, params)
        if context is None:
            raise ModelError("llama.cpp gave no scoring context.", "Free some memory and start again.")
        return context

    def likelihoods(self, prefixes: Sequence[str], continuation: str) -> tuple[float, ...]:
        """Mean log-probability of the continuation's tokens after each prefix; all prefixes in one batch.

        Raises:
            ModelError: the texts do not fit the context, or llama.cpp failed.

        """
        wanted = self._llama.tokenize(continuation.encode(), add_bos=False)
        heads = [self._llama.tokenize(prefix.encode(), add_bos=True) for prefix in prefixes]
        if len(heads) > MOST_SEQUENCES or sum(len(head) + len(wanted) for head in heads) > CONTEXT or not wanted:
            raise ModelError(
                "The sentences to weigh do not fit the language model's context.", "Weigh fewer at a time."
            )
        return self._score([[*head, *wanted] for head in heads], [len(head) for head in heads])

    def _score(self, sequences: Sequence[Sequence[int]], starts: Sequence[int]) -> tuple[float, ...]:
        total = sum(len(sequence) for sequence in sequences)
        batch = llama_cpp.llama_batch_init(total, 0, 1)
        marks: list[tuple[int, int, int]] = []
        try:
            k = 0
            for number, (sequence, start) in enumerate(zip(sequences, starts, strict=True)):
                for position, token in enumerate(sequence):
                    batch.token[k], batch.pos[k] = token, position
                    batch.n_seq_id[k], batch.seq_id[k][0] = 1, number
                    predicts = start - 1 <= position < len(sequence) - 1
                    batch.logits[k] = 1 if predicts else 0
                    if predicts:
                        marks.append((number, k, sequence[position + 1]))
                    k += 1
            batch.n_tokens = total
            llama_cpp.llama_memory_clear(llama_cpp.llama_get_memory(self._context), True)
            if llama_cpp.llama_decode(self._context, batch) != 0:
                raise ModelError(
                    "The language model could not weigh the sentences.", "The authored passage is shown instead."
                )
            return self._means(marks, len(sequences))
        finally:
            llama_cpp.llama_batch_free(batch)

    def _means(self, marks: Sequence[tuple[int, int, int]], count: int) -> tuple[float, ...]:
        logs: list[list[float]] = [[] for _ in range(count)]
        for number, place, token in marks:
            pointer = llama_cpp.llama_get_logits_ith(self._context, place)
            logits = np.ctypeslib.as_array(pointer, shape=(self._vocabulary_size,)).astype(np.float64)
            top = float(logits.max())
            logs[number].append(float(logits[token]) - top - float(np.log(np.exp(logits - top).sum())))
        return tuple(float(np.mean(values)) for values in logs)

    def choose(self, prompt: str, grammar: str, max_tokens: int) -> str:
        """Greedy decoding bounded by a GBNF grammar.

        Raises:
            ModelError: the grammar cannot be parsed or the prompt does not fit.

        """
        try:
            bounded = LlamaGrammar.from_string(grammar, verbose=False)
            answer = self._llama.create_completion(
                prompt, grammar=bounded, max_tokens=max_tokens, temperature=0.0, seed=0, stream=False
            )
        except (ValueError, RuntimeError) as error:
            raise ModelError(
                f"The language model could not choose: {error}", "The authored passage is shown."
            ) from error
        return str(answer["choices"][0]["text"])  # type: ignore[index]
