"""One session's hold on one job: what the conversation writes to and reads from while the work goes on."""

from __future__ import annotations

from assistant.domain.job import JobState
from assistant.domain.job_events import Detail, Opened, Resumed
from assistant.domain.job_terms import JobId
from assistant.records.lease import SessionMark
from assistant.records.ledger import Ledger
from assistant.records.replay import folded


class JobSession:
    """A job held by this session; `state` is always what a replay of the log would give, `notice` what to tell at the start."""

    def __init__(self, ledger: Ledger, mark: SessionMark, who: str, state: JobState, notice: str = "") -> None:
        """Use `begun` or `resumed`."""
        self._ledger = ledger
        self._mark = mark
        self._who = who
        self.state = state
        self.notice = notice

    @classmethod
    def begun(cls, ledger: Ledger, mark: SessionMark, opening: Opened, *, date: str, at: str, who: str) -> JobSession:
        """A new job.

        Raises:
            RecordError: the record cannot be written.

        """
        event = ledger.open_job(opening, date=date, at=at, who=who, mark=mark)
        return cls(ledger, mark, who, folded(None, event))

    @classmethod
    def resumed(cls, ledger: Ledger, mark: SessionMark, job: str, *, at: str, who: str) -> JobSession:
        """A job taken up where it stood; what was declared of the machine's energy has to be declared again.

        Raises:
            JobInUse: a living session holds it.
            EventRefused: it is closed.
            UnknownName: no such job.

        """
        notice = ledger.take(job, mark, at)
        try:
            ledger.append(job, Resumed(text=notice), at=at, who=who, mark=mark)
        except BaseException:
            ledger.give_back(job, mark)
            raise
        return cls(ledger, mark, who, ledger.state(job), notice)

    @property
    def job(self) -> JobId:
        """The id of the job."""
        return self.state.job.id

    def record(self, detail: Detail, at: str) -> JobState:
        """Write an event; when this returns, it is on the disk.

        Raises:
            EventRefused: the job cannot take it.
            JobInUse: another session took the job over.

        """
        event = self._ledger.append(self.job, detail, at=at, who=self._who, mark=self._mark)
        self.state = folded(self.state, event)
        return self.state

    def beat(self, at: str) -> None:
        """Say that the session lives, while nothing happens.

        Raises:
            JobInUse: another session took the job over.

        """
        self._ledger.beat(self.job, self._mark, at)

    def release(self) -> None:
        """Let another session take the job up."""
        self._ledger.give_back(self.job, self._mark)
