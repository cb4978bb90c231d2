"""A scripted model that lies -> how many of its drafts reach an answer (there must be none)."""

from __future__ import annotations

import random
import re
from collections.abc import Sequence

from assistant.domain.draft import Draft
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.search import Sentence
from assistant.retrieval.passages import sentences_of_entry
from assistant.rules.verdict import Rules

LIES = ("figure", "unit", "code", "designation", "negation", "cut", "joined", "foreign", "invented", "lead", "double")
_FIGURE = re.compile(r"\d+(?:\.\d+)?")


def lying_draft(kind: str, own: Sequence[Sentence], others: Sequence[Sentence], chance: random.Random) -> Draft | None:
    """A draft with one lie of that kind, or None where the sentences give no room for it."""
    sentence = chance.choice(own)
    text, lead = sentence.text, ""
    match kind:
        case "figure":
            text = _FIGURE.sub(lambda m: str(int(float(m.group())) + chance.randint(1, 9)), text, count=1)
        case "unit":
            text = re.sub(
                r"\b(mm|min|bar|N|V|A|kg|s|Hz|mA)\b", lambda m: chance.choice(["cm", "h", "psi", "kV"]), text, count=1
            )
        case "code":
            text = f"{text[:-1]} and code {chance.randint(100, 999)}."
        case "designation":
            text = f"{text[:-1]} at {chance.choice(['FC9', 'QA7', 'TA8'])}."
        case "negation":
            text = re.sub(r"\b(not|never|no)\b ?", "", text, count=1)
        case "cut":
            text = " ".join(text.split()[: max(2, len(text.split()) // 2)]) + "."
        case "joined":
            text = f"{text[:-1]}, {chance.choice(own).text}"
        case "foreign":
            return Draft(sentences=(chance.choice(others),))
        case "invented":
            text = chance.choice(
                ["Reach in while it turns.", "Open the drive at once.", "The gap is 9 mm.", "Fit a larger fuse."]
            )
        case "lead":
            lead = chance.choice(["Set it to 12 mm.", "Bridge BG9.", "Yes.", "Skip the lock.", "About 5 min:"])
        case "double":
            return Draft(sentences=(sentence, sentence))
    if text == sentence.text and not lead:
        return None
    return Draft(sentences=(Sentence(entry=sentence.entry, section=sentence.section, text=text),), lead=lead)


def fuzz(knowledge: KnowledgeBase, rules: Rules, count: int, seed: int = 0) -> tuple[int, list[Draft]]:
    """Drafts tried, and those that the rules let through."""
    chance = random.Random(seed)
    entries = [e for e in knowledge.entries() if e.kind in ("fact", "component", "code", "procedure", "fault")]
    passed: list[Draft] = []
    tried = 0
    while tried < count:
        entry, other = chance.sample(entries, 2)
        own, others = sentences_of_entry(entry), sentences_of_entry(other)
        mine = {s.text for s in own}
        draft = lying_draft(chance.choice(LIES), own, [s for s in others if s.text not in mine] or others, chance)
        if draft is None:
            continue
        tried += 1
        if rules.ground.holds_draft(draft, [entry.full_id]):
            passed.append(draft)
    return tried, passed
