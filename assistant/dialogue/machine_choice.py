"""Findings over several packs -> the pack meant, or those that fit equally."""

from __future__ import annotations

from assistant.domain.knowledge import Machine
from assistant.domain.search import Findings
from assistant.domain.turn import Conversation
from assistant.retrieval.analysis import stem, words_of

EQUAL_SHARE = 0.85
"""A twin entry of another machine fits equally when its score reaches this share of the best, or when both are named."""
LOOKED_AT = 6


def equal_packs(findings: Findings, machines: tuple[Machine, ...], before: Conversation) -> tuple[str, ...]:
    """The packs that fit equally, sorted; empty when the scope, a word, the conversation or the ranking settles it."""
    packs = {machine.pack for machine in machines}
    hits = findings.hits[:LOOKED_AT]
    if findings.query.scope is not None or not hits:
        return ()
    best = hits[0]
    pack, kind_slug = best.entry.split("/", 1)
    if pack not in packs:
        return ()
    named = findings.query.exact if best.entry in findings.query.exact else ()
    rivals = {entry.split("/", 1)[0] for entry in named if entry.split("/", 1)[1] == kind_slug}
    rivals |= {
        hit.entry.split("/", 1)[0]
        for hit in hits[1:]
        if hit.entry.split("/", 1)[1] == kind_slug and hit.score >= EQUAL_SHARE * best.score
    }
    rivals = (rivals & packs) - {pack}
    if not rivals:
        return ()
    contenders = {pack, *rivals}
    if before.focus is not None and before.focus.split("/", 1)[0] in contenders:
        return ()
    pointed = pointed_at(findings.query.text, machines) & contenders
    if len(pointed) == 1:
        return ()
    return tuple(sorted(contenders))


def pointed_at(text: str, machines: tuple[Machine, ...]) -> set[str]:
    """Packs one of whose own words (words of no other pack) is in the text."""
    stems = {stem(word) for word in words_of(text)}
    words = {m.pack: {stem(part) for word in m.words for part in words_of(word)} for m in machines}
    pointed: set[str] = set()
    for pack, own in words.items():
        others = set().union(*(w for p, w in words.items() if p != pack))
        if stems & (own - others):
            pointed.add(pack)
    return pointed
