"""One whole job as a sequence of events, and the small things that the tests of the record share."""

from assistant.domain.job import JobEvent
from assistant.domain.job_events import (
    Amended,
    AnswerRevised,
    CheckAnswered,
    CheckImpossible,
    Closed,
    EnergyDeclared,
    EvidenceSeen,
    FaultNamed,
    HoldConfirmed,
    IsolationItemConfirmed,
    IsolationVoided,
    Left,
    NoteTaken,
    NotKnown,
    Opened,
    ProcedureStarted,
    ProcedureStopped,
    ProofFailed,
    ProofPassed,
    QuestionAsked,
    ReadingTaken,
    RepairDone,
    RepairImpossible,
    Resumed,
    StepConfirmed,
    StepSkipped,
    ValueAsked,
    WarningsShown,
)
from assistant.domain.job_terms import JobId, PartUsed, Share, Standing, Verdict
from assistant.domain.terms import Energy
from assistant.records.lease import SessionMark

DATE = "2026-11-25"
ISOLATE, CHAIN = "drumlin/procedure/isolate", "drumlin/procedure/replace-chain"
OPENING = Opened(machine="drumlin", complaint="table stands, mast moves", knowledge="ab12")
STORY = (
    FaultNamed(fault="drumlin/fault/table-dead"),
    EvidenceSeen(text="display says 203", code="203"),
    WarningsShown(ids=("electric-shock-1", "crushing-2")),
    CheckAnswered(check="listen", outcome="hum", said="it hums", asked="Listen for MA1.", energy=Energy.RUNNING, minutes=2),
    ReadingTaken(
        check="link-volts", value=23.4, unit="V", shares=(Share(name="low", share=0.25), Share(name="good", share=0.75)),
        said="twenty three four", energy=Energy.STOPPED, minutes=1.5,
    ),
    NotKnown(check="smell", said="no idea", minutes=1),
    CheckImpossible(check="winding", reason="no meter here"),
    AnswerRevised(check="listen", to=Standing.ANSWERED, outcome="silent", said="no, silent"),
    EnergyDeclared(energy=Energy.STOPPED, said="machine is stopped"),
    ProcedureStarted(procedure=CHAIN, steps=3, text="Replace the chain"),
    ProcedureStarted(procedure=ISOLATE, steps=2, text="Isolate"),
    HoldConfirmed(procedure=ISOLATE, step=1, item="QB1 is off"),
    StepConfirmed(procedure=ISOLATE, step=1, text="Turn QB1 off.", said="next", minutes=2),
    IsolationItemConfirmed(item="off", said="yes"),
    IsolationItemConfirmed(item="locked", said="yes"),
    StepConfirmed(procedure=ISOLATE, step=2, text="Prove it dead.", said="done", minutes=6),
    EnergyDeclared(energy=Energy.ISOLATED, items=("off", "locked", "dead"), said="isolated"),
    StepConfirmed(procedure=CHAIN, step=1, text="Take the old chain off.", minutes=5),
    IsolationVoided(reason="power is back on", said="power is back on"),
    Left(machine_state="carriage on its prop, chain off", must_not=("do not start it", "do not pull the prop")),
    NoteTaken(text="shift ends"),
    Resumed(),
    StepSkipped(procedure=CHAIN, step=2, reason="no oil here", text="Oil the chain."),
    ValueAsked(name="chain sag", verdict=Verdict.ABOVE, value=17, unit="mm", limits="10 mm to 15 mm", said="seventeen"),
    ProcedureStopped(procedure=CHAIN, reason="sag set later"),
    RepairImpossible(repair="new-motor", reason="no part"),
    RepairDone(
        repair="new-chain", causes=("chain-off", "pinion-loose"), parts=(PartUsed(part="drumlin/part/chain", quantity=1),),
        text="Replace the chain", energy=Energy.ISOLATED, minutes=20,
    ),
    ProofFailed(said="still stands", minutes=4),
    RepairDone(repair="clamp-pinion", causes=("pinion-loose",), energy=Energy.ISOLATED, minutes=8),
    ProofPassed(said="turns", minutes=4),
    QuestionAsked(question="how tight is the clamp", entry="trade/fact/clamp"),
    QuestionAsked(question="who won the match"),
    Closed(found=(Share(name="chain-off", share=0.25), Share(name="pinion-loose", share=0.75)), text="turns again"),
    Amended(reason="the old chain was whole", found=(Share(name="pinion-loose", share=1.0),)),
)  # fmt: skip
"""Every kind of event at least once."""


def at(minute):
    """A moment so many minutes after the opening."""
    return f"2026-11-25T{8 + minute // 60:02}:{minute % 60:02}:00+01:00"


def mark(number=1, pid=4000):
    """A session."""
    return SessionMark(session=f"session-{number}", pid=pid + number, host="bench")


def events_of(details, job="2026-11-25-1"):
    """The events with their numbers, a minute apart."""
    return [
        JobEvent(job=JobId(job), seq=n, at=at(n), who="ada", detail=detail) for n, detail in enumerate(details, start=1)
    ]


def begin(ledger, number=1, opening=OPENING):
    """A job opened by that session."""
    return ledger.open_job(opening, date=DATE, at=at(1), who="ada", mark=mark(number)).job


def write(ledger, job, details, number=1, start=2):
    """Further events of that session, a minute apart."""
    for minute, detail in enumerate(details, start=start):
        if isinstance(detail, Resumed):
            ledger.take(job, mark(number), at(minute))
        if isinstance(detail, NoteTaken) and ledger.state(job).left:
            ledger.take(job, mark(number), at(minute))
        ledger.append(job, detail, at=at(minute), who="ada", mark=mark(number))


def whole_story(ledger):
    """The story on the disk."""
    job = begin(ledger)
    write(ledger, job, STORY)
    return job
