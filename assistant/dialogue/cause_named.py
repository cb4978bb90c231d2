"""Words of a technician who has seen the cause -> the causes of the fault that they name."""

from __future__ import annotations

from assistant.domain.entries import Cause, FaultModel, Repair
from assistant.retrieval.analysis import terms_of

SHARE = 0.5
"""Of the words said, the share that a cause must hold to be meant at all."""


def named_causes(fault: FaultModel, text: str) -> list[str]:
    """Ids of the causes that fit best, author's order; several when they fit equally, none when nothing does.

    Its name is the cause; other words are compared with the cause's name, its sign and its remedy.
    """
    plain = text.strip(" .!?").lower()
    for cause in fault.causes:
        if plain == cause.name.lower():
            return [cause.id]
    said = set(terms_of(text))
    if not said:
        return []
    scores = {cause.id: _fit(said, cause) for cause in fault.causes}
    best = max(scores.values())
    return [name for name, score in scores.items() if score == best] if best >= SHARE * len(said) else []


def _fit(said: set[str], cause: Cause) -> float:
    """Words of the name count whole, those of sign and remedy half: they name what the cause is told by."""
    name = set(terms_of(f"{cause.name} {cause.id.replace('-', ' ')}"))
    rest = set(terms_of(" ".join((*cause.sign, *cause.remedy)))) - name
    return len(said & name) + 0.5 * len(said & rest)


def cheapest_cure(fault: FaultModel, cause: str) -> Repair:
    """The repair of that cause with the fewest minutes, its proof among them, for each chance to cure: cleaned before replaced."""
    proof = fault.proof.minutes if fault.proof is not None else 0.0
    curing = [repair for repair in fault.repairs if repair.cures.get(cause, 0.0) > 0.0]
    return min(curing, key=lambda repair: ((repair.minutes + proof) / repair.cures[cause], repair.id))
