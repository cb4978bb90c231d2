"""A conversation's turns -> the job record, where every event is on the disk before the answer is shown."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from assistant.domain.answer import Answer
from assistant.domain.entries import FaultModel
from assistant.domain.guide import Work
from assistant.domain.job import JobStatus
from assistant.domain.job_events import Closed, Detail, Left, Opened
from assistant.domain.job_terms import Share
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.terms import Energy, EntryId
from assistant.domain.turn import Conversation
from assistant.isolation import Isolator, credit
from assistant.isolation.learning import ClosedJob
from assistant.records.happenings import Happenings
from assistant.records.job_session import JobSession
from assistant.records.lease import SessionMark
from assistant.records.ledger import Ledger
from assistant.records.resumption import conversation_of

IsolatorOf = Callable[[FaultModel], Isolator]


class Recorder:
    """Writes the turns of one conversation to the record."""

    def __init__(
        self,
        ledger: Ledger,
        knowledge: KnowledgeBase,
        isolator_of: IsolatorOf,
        *,
        mark: SessionMark,
        who: str,
        now: Callable[[], str],
    ) -> None:
        """`now` tells the time with its offset; `who` works; `isolator_of` gives the planner that shares the credit."""
        self._ledger, self._mark, self._who, self._now = ledger, mark, who, now
        self._isolator_of = isolator_of
        self._knowledge = knowledge
        self._titles = {entry.full_id: entry.title for entry in knowledge.entries()}
        self._faults = {fault.full_id: fault for fault in knowledge.faults}
        self._happenings = Happenings(self._faults, {p.full_id: p for p in knowledge.procedures})
        self._session: JobSession | None = None
        self._question = ""

    def take_up(self) -> tuple[Conversation, str] | None:
        """The conversation of the job that waits for this session, and what to tell of it; None when none waits.

        Raises:
            RecordError: it is held by a living session, or the record cannot be used.

        """
        waiting = self._ledger.current()
        if waiting is None:
            return None
        self._ledger.clear_current()
        self._session = JobSession.resumed(self._ledger, self._mark, waiting, at=self._now(), who=self._who)
        job = self._session.state.job
        notice = f"Job {job.id} is taken up: {job.complaint}. {self._session.notice}".strip()
        return conversation_of(self._session.state, self._titles.keys()), notice

    def note(self, said: str, before: Conversation, after: Conversation, answer: Answer) -> Conversation:
        """Write what a turn brought, and give the conversation back with the job's id in it.

        Raises:
            RecordError: it cannot be written.

        """
        if not before.work.going_on and after.work.going_on:
            self._begin(after.work, after)
        elif before.work.going_on and after.work.going_on and _other_hunt(before.work, after.work):
            self._leave(before, ("Another complaint was taken up.",))
            self._begin(after.work, after)
        if self._session is None:
            self._question = said
            return after
        for detail in self._happenings.of_turn(said, before, after, answer, self._session.state):
            self._session.record(detail, self._now())
        self._end(after, answer)
        job = str(self._session.job) if self._session is not None else None
        return replace(after, state=replace(after.state, job=job))

    def leave(self, conversation: Conversation) -> None:
        """The conversation ends: a job that goes on is left open with the state of the machine.

        Raises:
            RecordError: it cannot be written.

        """
        if self._session is not None:
            self._leave(conversation, ())

    def _begin(self, work: Work, after: Conversation) -> None:
        entry = self._subject(work)
        fault = str(work.isolating.fault) if work.isolating is not None else ""
        opening = Opened(
            machine=after.scope or "",
            complaint=self._question or self._titles[entry],
            fault=fault,
            knowledge=self._knowledge.digest,
        )
        at = self._now()
        self._session = JobSession.begun(self._ledger, self._mark, opening, date=at[:10], at=at, who=self._who)

    @staticmethod
    def _subject(work: Work) -> EntryId:
        if work.isolating is not None:
            return work.isolating.fault
        assert work.pacing is not None
        return work.pacing.procedure

    def _end(self, after: Conversation, answer: Answer) -> None:
        """A proved job is closed with what was found; one that was broken off or handed over is left open."""
        hunt = after.work.isolating
        if after.work.going_on or self._session is None:
            return
        if hunt is not None and hunt.over == "proved":
            model = self._isolator_of(self._faults[hunt.fault]).model
            shares = _rounded(credit(model, hunt.log))
            self._finish(Closed(found=shares, text="The proof passed."))
        elif hunt is None and self._session.state.position is None:
            self._finish(Closed(text="The procedure was gone through."))
        else:
            self._leave(after, tuple(line.text for line in answer.body if line.source is not None))

    def _leave(self, conversation: Conversation, must_not: tuple[str, ...]) -> None:
        assert self._session is not None
        if self._session.state.job.status is JobStatus.OPEN:
            energy = conversation.state.energy
            state = "not declared" if energy is Energy.UNKNOWN else str(energy)
            self._session.record(Left(machine_state=state, must_not=must_not), self._now())
        self._release()

    def _finish(self, closing: Detail) -> None:
        assert self._session is not None
        self._session.record(closing, self._now())
        self._release()

    def _release(self) -> None:
        assert self._session is not None
        self._session.release()
        self._session = None
        self._question = ""


def _other_hunt(before: Work, after: Work) -> bool:
    """Another fault, or the same one begun anew."""
    old, new = before.isolating, after.isolating
    if new is None or old is None:
        return new is not old and new is not None
    return old.fault != new.fault or new.log[: len(old.log)] != old.log


def _rounded(job: ClosedJob) -> tuple[Share, ...]:
    """Shares of the causes above a hundredth, summing to one."""
    kept = [(cause, share) for cause, share in job.shares if share >= 0.01]
    total = sum(share for _, share in kept)
    return tuple(Share(name=cause, share=share / total) for cause, share in kept)
