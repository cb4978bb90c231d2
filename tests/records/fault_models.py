"""A small fault whose numbers can be written down, and finished jobs of it."""

from assistant.domain.entries import Cause, Check, CheckOutcome, FaultModel
from assistant.domain.job_events import CheckAnswered, Closed, FaultNamed, ProofPassed, RepairDone
from assistant.domain.job_terms import Share
from assistant.records.replay import replayed
from tests.records.story import OPENING, events_of

FAULT = FaultModel(
    id="dead",
    pack="drumlin",
    title="Dead",
    hazards=(),
    source="scenario",
    symptom=(),
    meaning=(),
    afterwards=(),
    something_else=0.2,
    causes=tuple(
        Cause(id=name, name=name, weight=weight, sign=(), remedy=())
        for name, weight in (("relay", 3), ("cable", 1), ("fuse", 1))
    ),
    checks=(
        Check(
            id="lamp",
            outcomes=(
                CheckOutcome(says=("dark", "off"), likely={"relay": 0.9, "cable": 0.5, "fuse": 0.5}),
                CheckOutcome(says=("lit",), normal=True),
            ),
        ),
        Check(id="bare"),
    ),
)


def shares(**found):
    return tuple(Share(name=name, share=share) for name, share in found.items())


def job(number, *details, fault=FAULT.full_id, found=None, proved=True, handed_over_to=""):
    """A closed job of that fault: the details, a repair, its proof, and what was found."""
    middle = (*details, RepairDone(repair="r"), *((ProofPassed(),) if proved else ()))
    closing = Closed(found=shares(**(found or {})), handed_over_to=handed_over_to)
    return replayed(events_of([OPENING, FaultNamed(fault=fault), *middle, closing], job=f"2026-11-25-{number}"))


def lamp(outcome):
    return CheckAnswered(check="lamp", outcome=outcome)
