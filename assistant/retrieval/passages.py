"""Entry -> its searchable passages (as asked, as told) and its sentences; the author's sections, no chunker."""

from __future__ import annotations

from collections.abc import Iterable

from assistant.domain.entries import (
    Code,
    Component,
    Entry,
    Fact,
    FaultModel,
    Maintenance,
    Part,
    Procedure,
    Refusal,
    Signal,
)
from assistant.domain.search import Passage, Sentence

ASKED = "asked"
NAMED = "named"


def asked_passages(entry: Entry) -> tuple[Passage, ...]:
    """How people ask for the entry: its title, the names of the thing, each phrasing."""
    names: tuple[str, ...] = ()
    if isinstance(entry, Component):
        names = (", ".join((entry.name, *entry.aliases)),)
    elif isinstance(entry, Code):
        names = (f"code {entry.id} {' '.join(entry.display[1:]).lower()}",)
    named = [Passage(entry=entry.full_id, section=NAMED, text=text) for text in (entry.title, *names)]
    asked = [Passage(entry=entry.full_id, section=ASKED, text=text) for text in entry.phrasings]
    return (*named, *asked)


def told_passages(entry: Entry) -> tuple[Passage, ...]:
    """What the entry says, a passage a section, led by the title so that each stands alone."""
    sections: dict[str, list[str]] = {}
    for sentence in sentences_of_entry(entry):
        sections.setdefault(sentence.section, []).append(sentence.text)
    return tuple(
        Passage(entry=entry.full_id, section=section, text=f"{entry.title}. {' '.join(texts)}")
        for section, texts in sections.items()
    )


def sentences_of_entry(entry: Entry) -> tuple[Sentence, ...]:
    """Every authored sentence that may answer, in reading order, with its section."""
    found: list[Sentence] = []

    def take(section: str, texts: Iterable[str]) -> None:
        found.extend(Sentence(entry=entry.full_id, section=section, text=text) for text in texts)

    match entry:
        case Component():
            take("where", entry.location)
            take("what", (*entry.function, *entry.condition))
            take("danger", entry.danger)
        case Signal():
            take("signal", (*entry.on_means, *entry.off_means, *entry.see_at))
        case Code():
            take("meaning", (*entry.meaning, *entry.raised_when, *entry.clears_when))
            take("causes", (sign for cause in entry.causes for sign in cause.sign))
            take("first", entry.first)
        case FaultModel():
            take("symptom", (*entry.symptom, *entry.meaning))
            take("causes", (text for cause in entry.causes for text in (*cause.sign, *cause.remedy)))
            take("checks", (text for check in entry.checks for text in (*check.do, *check.good, *check.bad)))
            take("afterwards", entry.afterwards)
        case Procedure():
            take("purpose", (*entry.purpose, *entry.before))
            take("steps", (step.do for step in (*entry.steps, *entry.prove)))
        case Fact():
            take("answer", entry.answer)
            take("details", entry.details)
        case Maintenance():
            take("tasks", (text for task in entry.tasks for text in (task.do, *task.limit, *task.if_not)))
        case Refusal():
            take("reason", entry.reason)
            take("safe_way", entry.safe_way)
        case Part():
            take("part", (f"{entry.title}.",))
    return tuple(found)
