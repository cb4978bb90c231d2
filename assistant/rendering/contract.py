"""Answer -> the machine-readable object; its field names and meanings are fixed (see DEVELOPERS.md)."""

from __future__ import annotations

import dataclasses
from typing import Any

from assistant.domain.answer import Answer


def as_object(answer: Answer) -> dict[str, Any]:
    """A JSON-ready object with every field of the contract, always present."""
    heard = answer.heard
    pending = answer.pending
    return {
        "question": answer.question,
        "heard": None
        if heard is None
        else {
            "text": heard.text,
            "confidence": heard.confidence,
            "engine": heard.engine,
            "start_ms": heard.start_ms,
            "end_ms": heard.end_ms,
        },
        "outcome": str(answer.outcome),
        "machine": answer.machine,
        "hits": [{"id": hit.entry, "score": round(hit.score, 6)} for hit in answer.hits],
        "codes": list(answer.codes),
        "designations": list(answer.designations),
        "warnings": [
            {"id": w.id, "signal_word": str(w.signal_word), "hazard": str(w.hazard), "text": w.text}
            for w in answer.warnings
        ],
        "refusal": answer.refusal,
        "lead": answer.lead,
        "body": [line.text for line in answer.body],
        "roles": [str(line.role) for line in answer.body],
        "sources": list(answer.sources),
        "ask_next": list(answer.ask_next),
        "notice": answer.notice,
        "composer": answer.composer,
        "pending": None
        if pending is None
        else {"kind": str(pending.kind), "text": pending.text, "choices": list(pending.choices)},
        "state": {"energy": str(answer.state.energy), "job": answer.state.job, "step": answer.state.step},
        "calculation": None if answer.calculation is None else dataclasses.asdict(answer.calculation),
        "elapsed_ms": {name: round(value, 2) for name, value in answer.elapsed_ms},
    }
