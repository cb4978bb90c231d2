"""A complaint before the visit -> what is likely, what to bring and leave, who must be there, how long, what to ask now."""

from __future__ import annotations

from collections.abc import Sequence

from assistant.dialogue.planners import Isolators
from assistant.domain.answer import Outcome
from assistant.domain.entries import Entry, FaultModel, Part
from assistant.domain.fault_log import Log
from assistant.domain.isolation import SOMETHING_ELSE
from assistant.domain.search import Hit
from assistant.domain.terms import Energy, EntryId, Hazard
from assistant.domain.turn import Conversation
from assistant.domain.utterance import Utterance
from assistant.domain.visit import CallerQuestion, Carried, LikelyCause, Visit
from assistant.errors import UnknownName
from assistant.isolation import Complaint, belief, prepare, seen
from assistant.isolation.preparation import TARGET, Item, Preparation
from assistant.pipeline import Assistant

WORTH = 0.2
"""A fault whose score is below this share of the best one's is not packed for."""
MOST_FAULTS = 3
MOST_CAUSES = 5
TOOL_BURDEN = 1.0
PART_BURDEN = 3.0
"""What carrying a part counts for beside a tool where nothing is authored: parts cost and are often brought back."""


class VisitPlanner:
    """Plans visits with one assistant's knowledge."""

    def __init__(self, assistant: Assistant, isolators: Isolators) -> None:
        """`isolators` carry the weights that hold here."""
        self._assistant = assistant
        self._isolators = isolators
        self._entries: dict[EntryId, Entry] = {e.full_id: e for e in assistant.knowledge.entries()}

    def of_words(self, text: str, machine: str | None, target: float = TARGET) -> Visit:
        """The visit for a complaint in the caller's words, or for codes.

        Raises:
            UnknownName: nothing authored fits the complaint.

        """
        before = Conversation(scope=machine)
        answer, _ = self._assistant.turn(Utterance(text=text), before)
        found = self._faults_of(answer.hits) if answer.outcome is Outcome.ANSWERED else {}
        if not found:
            raise UnknownName(
                f"No complaint that is known here fits `{text}`.",
                "Say it in other words, name the code or the machine.",
            )
        codes = self._assistant.guide.shown(text, None)
        logs = {name: self._seen(name, codes) for name in found}
        return self._visit(text, found, logs, target, codes)

    def _seen(self, name: EntryId, codes: Sequence[str]) -> Log:
        """What the codes on the panel tell of a fault's causes."""
        fault = self._entries[name]
        assert isinstance(fault, FaultModel)
        log: Log = ()
        for code in codes:
            log = seen(self._isolators(fault).model, fault, log, code)
        return log

    def of_job(self, complaint: str, fault: EntryId, log: Log, target: float = TARGET) -> Visit:
        """The visit that goes on with an open job.

        Raises:
            UnknownName: the job's fault is no longer in the knowledge.

        """
        if not isinstance(self._entries.get(fault), FaultModel):
            raise UnknownName(
                f"The fault `{fault}` of that job is not in the knowledge.", "Name the complaint instead."
            )
        return self._visit(complaint, {fault: 1.0}, {fault: log}, target)

    def _faults_of(self, hits: Sequence[Hit]) -> dict[EntryId, float]:
        """Faults that can be led through from the best entries, with their shares of the scores."""
        found: dict[EntryId, float] = {}
        top = 0.0
        for hit in hits:
            entry, score = hit.entry, float(hit.score)
            top = max(top, score)
            target = self._assistant.guide.target(entry)
            if score < WORTH * top or len(found) == MOST_FAULTS:
                break
            if target is not None and isinstance(self._entries[target], FaultModel):
                found[target] = max(found.get(target, 0.0), score)
        total = sum(found.values())
        return {fault: score / total for fault, score in found.items()}

    def _visit(
        self,
        complaint: str,
        shares: dict[EntryId, float],
        logs: dict[EntryId, Log],
        target: float,
        codes: Sequence[str] = (),
    ) -> Visit:
        """`codes` were named; those that bear on one of the faults are said to count."""
        faults = [f for name in shares if isinstance(f := self._entries[name], FaultModel)]
        complaints = [
            Complaint(isolator=self._isolators(f), chance=shares[f.full_id], log=logs.get(f.full_id, ()))
            for f in faults
        ]
        plan = prepare(complaints, self._burdens(faults), target, Energy.RUNNING)
        counting = {getattr(event, "seen", "") for log in logs.values() for event in log}
        return Visit(
            complaint=complaint,
            codes=tuple(code for code in codes if code in counting),
            faults=tuple((f.title, shares[f.full_id]) for f in faults),
            causes=self._causes(faults, shares, logs),
            bring=tuple(self._carried(item) for item in plan.bring),
            leave=tuple(self._carried(item) for item in plan.leave if item.finish_lost > 0.0005),
            chance=plan.chance,
            chance_with_all=plan.chance_with_all,
            target=target,
            minutes=plan.minutes,
            low_minutes=plan.low_minutes,
            high_minutes=plan.high_minutes,
            who=self._who(faults),
            ask=self._questions(plan),
            warnings=self._warnings(faults, complaint),
        )

    def _burdens(self, faults: Sequence[FaultModel]) -> dict[str, float]:
        """Parts by their authored price in minutes, tools alike."""
        burdens: dict[str, float] = {}
        for fault in faults:
            for check in fault.checks:
                burdens.update(dict.fromkeys(check.tools, TOOL_BURDEN))
            for repair in fault.repairs:
                burdens.update({tool: burdens.get(tool, TOOL_BURDEN) for tool in repair.tools})
                each = max(PART_BURDEN, repair.price / max(1, len(repair.parts)))
                burdens.update({part: max(burdens.get(part, 0.0), each) for part in repair.parts})
        return burdens

    def _causes(
        self, faults: Sequence[FaultModel], shares: dict[EntryId, float], logs: dict[EntryId, Log]
    ) -> tuple[LikelyCause, ...]:
        found = []
        for fault in faults:
            names = {cause.id: cause.name for cause in fault.causes}
            chances = belief(self._isolators(fault).model, logs.get(fault.full_id, ()))
            found += [
                LikelyCause(fault=fault.full_id, name=names[cause], chance=shares[fault.full_id] * chance)
                for cause, chance in chances.items()
                if cause != SOMETHING_ELSE
            ]
        return tuple(sorted(found, key=lambda c: (-c.chance, c.fault, c.name))[:MOST_CAUSES])

    def _carried(self, item: Item) -> Carried:
        entry = self._entries.get(EntryId(item.name))
        name = f"{entry.title} ({item.name})" if isinstance(entry, Part) else item.name
        return Carried(name=name, finish_lost=item.finish_lost, wanted=item.wanted)

    def _who(self, faults: Sequence[FaultModel]) -> tuple[str, ...]:
        """Competence for live checks, and what the repairs' procedures ask for."""
        said: dict[str, None] = {}
        energy = self._assistant.knowledge.energy
        for fault in faults:
            if any(check.live for check in fault.checks):
                said.update(dict.fromkeys(energy.live.who))
            for repair in fault.repairs:
                procedure = self._entries.get(EntryId(repair.procedure)) if repair.procedure else None
                said.update(dict.fromkeys(getattr(procedure, "who", ())))
        return tuple(said)

    def _questions(self, plan: Preparation) -> tuple[CallerQuestion, ...]:
        asked = []
        for question in plan.questions:
            fault = self._entries[EntryId(question.complaint)]
            assert isinstance(fault, FaultModel)
            check = next(c for c in fault.checks if c.id == question.check)
            outcomes = tuple(outcome.says[0] for outcome in check.outcomes)
            asked.append(CallerQuestion(title=check.title, how=check.do, outcomes=outcomes))
        return tuple(asked)

    def _warnings(self, faults: Sequence[FaultModel], text: str) -> tuple[str, ...]:
        hazards: dict[Hazard, None] = {}
        for fault in faults:
            hazards.update(dict.fromkeys(fault.hazards))
        chosen = self._assistant.rules.safety.warnings(hazards, text)
        return tuple(f"{warning.signal_word}: {warning.text}" for warning in chosen)
