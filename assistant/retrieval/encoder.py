"""Text -> unit vectors by all-MiniLM-L6-v2 (int8) on onnxruntime; mean pooling over the attention mask."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import onnxruntime
from tokenizers import Tokenizer

from assistant.domain.stages import Vectors
from assistant.errors import ModelError

MAX_TOKENS = 128
"""Longer passages are cut; authored sections stay below (measured: 99 % under 110 tokens)."""
BATCH = 32
THREADS = 2


class MiniLmEncoder:
    """The encoder of questions and passages."""

    def __init__(self, model: Path, tokenizer: Path, name: str) -> None:
        """Load both files; `name` tells this model from others in the index signature.

        Raises:
            ModelError: onnxruntime or the tokenizer cannot read a file.

        """
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = THREADS
        options.log_severity_level = 3
        try:
            self._session = onnxruntime.InferenceSession(
                str(model), sess_options=options, providers=["CPUExecutionProvider"]
            )
            self._tokenizer = Tokenizer.from_file(str(tokenizer))
        except Exception as error:
            raise ModelError(
                f"The encoder cannot be loaded from {model.name}: {error}", "Run `handlamp models verify`."
            ) from error
        self._tokenizer.enable_truncation(MAX_TOKENS)
        self._tokenizer.enable_padding()
        self._inputs = {item.name for item in self._session.get_inputs()}
        self._name = name

    @property
    def name(self) -> str:
        """Name and digest of the model file."""
        return self._name

    def encode(self, texts: Sequence[str]) -> Vectors:
        """float32 (len(texts), 384), rows unit-length; sorted by length inside, so that little is padded."""
        order = sorted(range(len(texts)), key=lambda i: (len(texts[i]), i))
        result = np.zeros((len(texts), 384), dtype=np.float32)
        for start in range(0, len(order), BATCH):
            chosen = order[start : start + BATCH]
            result[chosen] = self._batch([texts[i] for i in chosen])
        return result

    def _batch(self, texts: Sequence[str]) -> Vectors:
        encodings = self._tokenizer.encode_batch(list(texts))
        mask = np.array([e.attention_mask for e in encodings], dtype=np.int64)
        feed = {
            "input_ids": np.array([e.ids for e in encodings], dtype=np.int64),
            "attention_mask": mask,
            "token_type_ids": np.zeros_like(mask),
        }
        hidden = self._session.run(None, {k: v for k, v in feed.items() if k in self._inputs})[0]
        weights = mask[:, :, None].astype(np.float32)
        pooled = (hidden * weights).sum(axis=1) / np.maximum(weights.sum(axis=1), 1e-9)
        norms = np.linalg.norm(pooled, axis=1, keepdims=True)
        return np.asarray(pooled / np.maximum(norms, 1e-12), dtype=np.float32)
