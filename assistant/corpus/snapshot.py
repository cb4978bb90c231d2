"""KnowledgeBase <-> one JSON file, so that a start reads no YAML while the digest holds."""

from __future__ import annotations

import msgspec

from assistant.domain.knowledge import KnowledgeBase
from assistant.errors import IndexFailure

_decoder: msgspec.json.Decoder[KnowledgeBase] = msgspec.json.Decoder(KnowledgeBase)


def pack_knowledge(knowledge: KnowledgeBase) -> bytes:
    """The knowledge as JSON bytes; the same knowledge gives the same bytes."""
    return msgspec.json.encode(knowledge, order="deterministic")


def unpack_knowledge(data: bytes) -> KnowledgeBase:
    """The knowledge of JSON bytes.

    Raises:
        IndexFailure: the bytes are not a snapshot of this version.

    """
    try:
        return _decoder.decode(data)
    except (msgspec.ValidationError, msgspec.DecodeError) as error:
        raise IndexFailure(
            f"The stored knowledge cannot be read: {error}", "Run `handlamp index` to build it anew."
        ) from error
