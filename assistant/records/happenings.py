"""One turn of a conversation -> the events that a job's log takes of it; what was said and shown then, not what it meant later."""

from __future__ import annotations

from collections.abc import Mapping

from assistant.domain import fault_log
from assistant.domain.answer import Answer, Outcome
from assistant.domain.entries import FaultModel, Procedure
from assistant.domain.fault_log import Event
from assistant.domain.guide import Pacing, StepReading
from assistant.domain.job import JobState
from assistant.domain.job_events import (
    AnswerRevised,
    CheckAnswered,
    CheckImpossible,
    Detail,
    EnergyDeclared,
    EvidenceSeen,
    IsolationItemConfirmed,
    IsolationVoided,
    NotKnown,
    ProcedureStarted,
    ProofFailed,
    ProofPassed,
    QuestionAsked,
    ReadingTaken,
    RepairDone,
    RepairImpossible,
    StepConfirmed,
    StepSkipped,
    ValueAsked,
    WarningsShown,
)
from assistant.domain.job_terms import PartUsed, Share, Standing, Verdict
from assistant.domain.terms import Energy, EntryId
from assistant.domain.turn import Conversation
from assistant.recognition.readings import in_unit, one_reading

ASIDE = (Outcome.ANSWERED, Outcome.NOT_COVERED, Outcome.REFUSED)
"""Outcomes of a question that was asked beside the guided work."""


class Happenings:
    """Knows the authored words that events quote."""

    def __init__(self, faults: Mapping[EntryId, FaultModel], procedures: Mapping[EntryId, Procedure]) -> None:
        """Keep what titles, minutes and steps are looked up in."""
        self._faults = faults
        self._procedures = procedures

    def of_turn(
        self, said: str, before: Conversation, after: Conversation, answer: Answer, state: JobState
    ) -> tuple[Detail, ...]:
        """All events of a turn, in the order in which they happened: declared, answered, worked, shown."""
        return (
            *self.declared(said, before, after),
            *self.answered(said, before, after, state),
            *self.stepped(said, before, after, state),
            *_shown(said, answer, after),
        )

    def declared(self, said: str, before: Conversation, after: Conversation) -> list[Detail]:
        """Items confirmed, an isolation reached or voided, any other state declared."""
        found: list[Detail] = []
        old, new = before.state.energy, after.state.energy
        fresh = [item for item in after.confirmed if item not in before.confirmed]
        found += [IsolationItemConfirmed(item=item, said=said) for item in fresh]
        gone = old is Energy.ISOLATED and new is not Energy.ISOLATED
        dropped = bool(before.confirmed) and not after.confirmed and new is not Energy.ISOLATED
        if gone or dropped:
            found.append(
                IsolationVoided(reason="the supply is back" if gone else "not every item was confirmed", said=said)
            )
        if new is not old and new is not Energy.UNKNOWN:
            items = tuple(before.confirmed) if new is Energy.ISOLATED else ()
            found.append(EnergyDeclared(energy=new, items=items, said=said))
        return found

    def answered(self, said: str, before: Conversation, after: Conversation, state: JobState) -> list[Detail]:
        """What the hunt's log has grown by, and the codes seen that tell nothing of its causes."""
        hunt = after.work.isolating
        if hunt is None:
            return []
        fault = self._faults[hunt.fault]
        grown = hunt.log[len(state.belief) :]
        found = [self._belief(fault, event, said, before.state.energy) for event in grown]
        told = sum(1 for item in state.evidence if item.code and not item.check)
        return [*found, *(EvidenceSeen(text=said, code=code) for code in hunt.beside[told:])]

    def _belief(self, fault: FaultModel, event: Event, said: str, energy: Energy) -> Detail:
        match event:
            case fault_log.Answered(check=name, outcome=outcome, seen=code) if code:
                return EvidenceSeen(text=said, code=code, check=name, outcome=outcome)
            case fault_log.ReadingNear(check=name, seen=code) if code:
                return EvidenceSeen(text=said, code=code, check=name, shares=_shares(event))
            case fault_log.Answered() | fault_log.ReadingNear():
                return self._answer(fault, event, said, energy)
            case fault_log.DontKnow(check=name):
                title, minutes = _check(fault, name)
                return NotKnown(check=name, said=said, asked=title, energy=energy, minutes=minutes)
            case fault_log.CantCheck(check=name):
                return CheckImpossible(check=name, reason=said)
            case fault_log.Revised(check=name, to=to):
                return _revised(name, to, said)
            case fault_log.Repaired(repair=name):
                return _repair(fault, name, said, energy)
            case fault_log.CantRepair(repair=name):
                return RepairImpossible(repair=name, reason=said)
            case fault_log.ProofPassed():
                return ProofPassed(said=said, minutes=fault.proof.minutes if fault.proof else 0.0)
            case fault_log.ProofFailed():
                return ProofFailed(said=said, minutes=fault.proof.minutes if fault.proof else 0.0)

    def _answer(
        self, fault: FaultModel, event: fault_log.Answered | fault_log.ReadingNear, said: str, energy: Energy
    ) -> Detail:
        check = next(c for c in fault.checks if c.id == event.check)
        reading = one_reading(said) if check.reading is not None else None
        value = in_unit(reading, check.reading.unit) if reading is not None and check.reading is not None else None
        outcome = event.outcome if isinstance(event, fault_log.Answered) else ""
        if value is None or check.reading is None:
            label = outcome or _likeliest(event)
            return CheckAnswered(
                check=check.id, outcome=label, said=said, asked=check.title, energy=energy, minutes=check.minutes
            )
        return ReadingTaken(
            check=check.id,
            value=value,
            unit=check.reading.unit,
            outcome=outcome,
            shares=() if outcome else _shares(event),
            said=said,
            asked=check.title,
            energy=energy,
            minutes=check.minutes,
        )

    def stepped(self, said: str, before: Conversation, after: Conversation, state: JobState) -> list[Detail]:
        """Procedures begun, steps done or left out, values held against their limits.

        A procedure that was broken off is not given up: the job goes back to its step when it is resumed.
        """
        old, new = before.work.pacing, after.work.pacing
        found: list[Detail] = []
        if old is not None and (new is None or new.procedure == old.procedure):
            found += self._advanced(said, old, new, state)
        if new is not None and (old is None or new.procedure != old.procedure):
            procedure = self._procedures[new.procedure]
            steps = len(procedure.steps) + len(procedure.prove)
            found.append(ProcedureStarted(procedure=new.procedure, steps=steps, text=procedure.title))
        return found

    def _advanced(self, said: str, old: Pacing, new: Pacing | None, state: JobState) -> list[Detail]:
        procedure = self._procedures[old.procedure]
        steps = (*procedure.steps, *procedure.prove)
        due = state.position.next_step if state.position else 0
        found: list[Detail] = [_value(reading) for reading in (new.readings if new else ())[len(old.readings) :]]
        ended = new is None and old.at + 1 == len(steps)
        if (ended or (new is not None and new.at == old.at + 1)) and due == old.at + 1:
            text = steps[old.at].do
            if new is not None and old.at in new.skipped:
                found.append(StepSkipped(procedure=old.procedure, step=old.at + 1, reason=said, text=text))
            else:
                found.append(StepConfirmed(procedure=old.procedure, step=old.at + 1, text=text, said=said))
        return found


def _shown(said: str, answer: Answer, after: Conversation) -> list[Detail]:
    found: list[Detail] = []
    if answer.warnings:
        found.append(WarningsShown(ids=tuple(w.id for w in answer.warnings)))
    if answer.outcome in ASIDE:
        entry = str(answer.sources[0]) if answer.outcome is not Outcome.NOT_COVERED and answer.sources else ""
        found.append(QuestionAsked(question=said, entry=entry))
    return found


def _check(fault: FaultModel, name: str) -> tuple[str, float]:
    check = next(c for c in fault.checks if c.id == name)
    return check.title, check.minutes


def _repair(fault: FaultModel, name: str, said: str, energy: Energy) -> Detail:
    repair = next(r for r in fault.repairs if r.id == name)
    return RepairDone(
        repair=name,
        causes=tuple(repair.cures),
        parts=tuple(PartUsed(part=part) for part in repair.parts),
        text=repair.title,
        said=said,
        energy=energy,
        minutes=repair.minutes,
    )


def _revised(name: str, to: fault_log.Said | None, said: str) -> Detail:
    match to:
        case None:
            return AnswerRevised(check=name, to=Standing.OPEN, said=said)
        case fault_log.Answered(outcome=outcome):
            return AnswerRevised(check=name, to=Standing.ANSWERED, outcome=outcome, said=said)
        case fault_log.ReadingNear():
            return AnswerRevised(check=name, to=Standing.NEAR_LIMIT, shares=_shares(to), said=said)
        case fault_log.DontKnow():
            return AnswerRevised(check=name, to=Standing.NOT_KNOWN, said=said)
        case fault_log.CantCheck():
            return AnswerRevised(check=name, to=Standing.IMPOSSIBLE, said=said)


def _shares(event: fault_log.Answered | fault_log.ReadingNear) -> tuple[Share, ...]:
    if isinstance(event, fault_log.Answered):
        return ()
    total = sum(share for _, share in event.shares)
    return tuple(Share(name=name, share=share / total) for name, share in event.shares)


def _likeliest(event: fault_log.Answered | fault_log.ReadingNear) -> str:
    return event.outcome if isinstance(event, fault_log.Answered) else max(event.shares, key=lambda pair: pair[1])[0]


def _value(reading: StepReading) -> Detail:
    verdict = Verdict.BELOW if reading.below else Verdict.ABOVE if reading.above else Verdict.WITHIN
    return ValueAsked(
        name=f"step {reading.at + 1}",
        verdict=verdict,
        value=reading.value,
        unit=reading.unit,
        limits=reading.limits,
        said=reading.text,
    )
