"""What was declared of the machine, and which steps may be given in that state."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from assistant.domain.entries import FaultModel, Procedure
from assistant.domain.safety import EnergyRules, IsolationItem, ItemKind
from assistant.domain.terms import Energy
from assistant.domain.turn import Conversation, Pending, PendingKind
from assistant.rules.phrases import NO, YES

_SUBJECT = r"(?:the )?(?:power|supply|mains|machine|isolator|main switch|juice|qb1|it|everything)"
_OPENING = r"^(?:ok(?:ay)?|right|now|so|well|done|i said|note)?[ ,:]*"
POWER_ON = re.compile(
    rf"\b(?:{_SUBJECT}(?:'s| is| has been| was)? (?:back |now |again |switched |turned )*(?:on|live|energi[sz]ed|restored)(?: again| now)?"
    r"|(?:i|we)(?:'ve| have)? (?:just |now )?(?:switched|turned|put|powered) (?:it|(?:the )?(?:power|machine|mains|supply|isolator))(?: back)? (?:on|up)"
    r"|(?:my |the )?lock(?:'s| is| has been)? (?:off|removed|taken off)|(?:i|we) (?:took|have taken) (?:my |the )?lock off)\b"
)
_POWER_ON_WHOLE = re.compile(_OPENING + rf"(?:{POWER_ON.pattern})[ .!]*$")
_ISOLATED_WHOLE = re.compile(
    _OPENING
    + r"(?:(?:the )?(?:machine|it|everything|power|supply)(?:'s| is| has been)? (?:now )?|i(?:'ve| have) |we(?:'ve| have) )?"
    r"(?:isolated|locked (?:off|out)|proved dead|dead|de-?energi[sz]ed)"
    r"(?:[ ,]+(?:it|and|the machine|locked|tagged|off|out|proved|proven|dead|now))*[ .!]*$"
)
_STOPPED_WHOLE = re.compile(
    _OPENING + r"(?:the )?(?:machine|it)(?:'s| is| has)? (?:now )?(?:stopped|standing still|at a stand)[ .!]*$"
)
_RUNNING_WHOLE = re.compile(_OPENING + r"(?:the )?(?:machine|it)(?:'s| is) (?:now )?running(?: again)?[ .!]*$")
_QUESTION = re.compile(r"\?\s*$|^(?:is|are|was|when|why|how|what|should|must|can|may|do|does)\b")


def declared(text: str) -> Energy | None:
    """The state that an utterance declares when it is a declaration and nothing else; a question declares nothing."""
    plain = text.strip().lower()
    if _QUESTION.search(plain):
        return None
    if _POWER_ON_WHOLE.search(plain):
        return Energy.RUNNING
    if _ISOLATED_WHOLE.search(plain):
        return Energy.ISOLATED
    if _STOPPED_WHOLE.search(plain):
        return Energy.STOPPED
    if _RUNNING_WHOLE.search(plain):
        return Energy.RUNNING
    return None


def speaks_of_power(text: str) -> bool:
    """Whether the words say, in any sentence that is no question, that power is back; enough to void an isolation."""
    sentences = re.split(r"(?<=[.!?;\n])\s+", text.lower())
    return any(POWER_ON.search(s) and not _QUESTION.search(s.strip()) for s in sentences)


def void(before: Conversation, energy: Energy) -> Conversation:
    """The conversation with every confirmation taken back."""
    return replace(
        before,
        state=replace(before.state, energy=energy),
        confirmed=(),
        pending=_without_confirm(before),
        isolated=None,
    )


def of_machine(before: Conversation, pack: str | None) -> Conversation:
    """The conversation as it holds for that machine: an isolation confirmed for one machine says nothing of another."""
    if pack is None or before.state.energy is not Energy.ISOLATED or before.isolated == pack:
        return before
    if before.isolated is None:
        return replace(before, isolated=pack)
    return void(before, Energy.UNKNOWN)


def _without_confirm(before: Conversation) -> Pending | None:
    pending = before.pending
    return None if pending is not None and pending.kind is PendingKind.CONFIRM else pending


def next_item(rules: EnergyRules, confirmed: Sequence[str], pack: str | None) -> Pending | None:
    """The isolation item of that machine to confirm next, in the authored order; None when all are."""
    for item in rules.items(pack):
        if item.id not in confirmed:
            return Pending(kind=PendingKind.CONFIRM, text=item.ask, choices=(YES, NO))
    return None


def item_asked(rules: EnergyRules, before: Conversation) -> IsolationItem | None:
    """The item that is due and asked about just now; None when another thing is asked, or an item out of its turn."""
    due = next((item for item in rules.items(before.scope) if item.id not in before.confirmed), None)
    asked = before.pending.text if before.pending is not None else ""
    return due if due is not None and due.ask == asked else None


def proving(rules: EnergyRules, before: Conversation) -> bool:
    """Whether the first proof is asked about or confirmed: from there on a no says that what was taken for dead may not be."""
    items = rules.items(before.scope)
    first = next((i for i, item in enumerate(items) if item.kind is ItemKind.PROVE), len(items) - 1)
    return len(before.confirmed) >= first


def take_back(rules: EnergyRules, before: Conversation) -> tuple[Conversation, IsolationItem]:
    """The conversation without the item that was confirmed last, which is asked again, and that item."""
    kept = before.confirmed[:-1]
    item = next(item for item in rules.items(before.scope) if item.id == before.confirmed[-1])
    return replace(before, confirmed=kept, pending=next_item(rules, kept, before.scope)), item


def wait_asked(rules: EnergyRules, before: Conversation) -> float:
    """Seconds of the wait that is asked about just now; 0 when another item is, or none."""
    item = item_asked(rules, before)
    return item.wait_s if item is not None else 0.0


def asks_item(rules: EnergyRules, before: Conversation) -> bool:
    """Whether what is asked is an isolation item, of this machine or of another."""
    pending = before.pending
    lists = (rules.isolation_items, *rules.of_machine.values())
    return pending is not None and any(item.ask == pending.text for items in lists for item in items)


def confirm(rules: EnergyRules, before: Conversation) -> Conversation:
    """The conversation after a yes to the item that was asked; isolated only when the last one is confirmed.

    An item that is not the one due (the machine was named or changed half-way) counts for nothing: its items begin again.
    """
    if before.pending is None or not asks_item(rules, before):
        return before
    due = next_item(rules, before.confirmed, before.scope)
    of_another = bool(before.confirmed) and before.isolated != before.scope
    if due is None or before.pending != due or of_another:
        return replace(before, confirmed=(), pending=next_item(rules, (), before.scope))
    confirmed = before.confirmed + tuple(item.id for item in rules.items(before.scope) if item.ask == due.text)
    following = next_item(rules, confirmed, before.scope)
    state = before.state if following is not None else replace(before.state, energy=Energy.ISOLATED)
    return replace(before, confirmed=confirmed, pending=following, state=state, isolated=before.scope)


def steps_allowed(procedure: Procedure, energy: Energy) -> bool:
    """Whether the steps may be given: a procedure is shown whole or withheld whole."""
    needs = {procedure.energy, *(step.energy for step in procedure.steps if step.energy is not None)}
    return Energy.ISOLATED not in needs or energy is Energy.ISOLATED


def needs_isolation(fault: FaultModel, energy: Energy) -> tuple[str, ...]:
    """Ids of the checks that may not be given in this state."""
    if energy is Energy.ISOLATED:
        return ()
    return tuple(check.id for check in fault.checks if check.energy is Energy.ISOLATED)
