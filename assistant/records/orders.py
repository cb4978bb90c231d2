"""A conversation that is left -> what holds while the machine stands so, for whoever comes next."""

from __future__ import annotations

from collections.abc import Mapping

from assistant.domain.entries import FaultModel, Procedure
from assistant.domain.safety import EnergyRules
from assistant.domain.terms import Energy, EntryId
from assistant.domain.turn import Conversation
from assistant.rules import phrases
from assistant.rules.unfinished import not_finished, unproved


def orders_of(
    energy: EnergyRules,
    faults: Mapping[EntryId, FaultModel],
    procedures: Mapping[EntryId, Procedure],
    conversation: Conversation,
) -> tuple[str, ...]:
    """By the state that was declared, by the steps that are not done, by the repairs that no proof has followed."""
    declared = conversation.state.energy
    told = list(energy.unknown if declared is Energy.UNKNOWN else energy.state(declared).leaving)
    pace, hunt = conversation.work.pacing, conversation.work.isolating
    if pace is not None:
        for heading, texts in not_finished(procedures[pace.procedure], pace.at, declared):
            told.append(f"{heading} {' '.join(texts)}")
    done = unproved(faults[hunt.fault], hunt.log) if hunt is not None else ()
    if done:
        told.append(f"{phrases.DONE_UNPROVED} {', '.join(done)}.")
    return tuple(told)
