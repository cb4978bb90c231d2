from dataclasses import replace
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.domain.job import JobStatus
from assistant.domain.job_events import (
    Amended,
    AnswerRevised,
    CheckAnswered,
    Closed,
    Detail,
    EnergyDeclared,
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
    ReadingTaken,
    RepairDone,
    Resumed,
    StepConfirmed,
    StepSkipped,
)
from assistant.domain.job_terms import Share, Standing
from assistant.domain.terms import Energy
from assistant.errors import EventRefused, RecordBroken
from assistant.records.ledger import open_ledger
from assistant.records.replay import folded, replayed
from tests.records.story import CHAIN, ISOLATE, OPENING, STORY, at, begin, events_of, mark, whole_story


def after(*details):
    return replayed(events_of([OPENING, *details]))


def story_until(kind):
    """The story up to and with the last event of that class."""
    last = max(n for n, detail in enumerate(STORY) if isinstance(detail, kind))
    return after(*STORY[: last + 1])


def test_the_story_holds_every_kind_of_event():
    assert {type(detail) for detail in (OPENING, *STORY)} == set(get_args(Detail))


def test_the_end_of_the_story_is_what_its_events_say():
    state = after(*STORY)
    assert state.job.status is JobStatus.CLOSED and state.job.fault == "drumlin/fault/table-dead"
    assert state.minutes == 2 + 1.5 + 1 + 2 + 6 + 5 + 20 + 4 + 8 + 4
    assert state.job.closed_at == at(1 + len(STORY) - 1) and state.last_at == at(1 + len(STORY))
    assert state.proved and state.unproved == () and state.finished == (ISOLATE,)
    assert state.found == (Share(name="pinion-loose", share=1.0),)
    assert [s.check for s in state.standings] == ["listen", "link-volts", "smell", "winding"]
    assert state.standings[0].outcome == "silent" and state.standings[0].seq == 5


def test_a_crash_goes_back_to_the_step():
    before_crash = story_until(EnergyDeclared)
    assert before_crash.step == f"{CHAIN}#1" and before_crash.energy is Energy.ISOLATED
    resumed = folded(before_crash, replace(events_of([Resumed()])[0], seq=before_crash.seq + 1))
    assert resumed.step == f"{CHAIN}#1"
    assert resumed.energy is Energy.UNKNOWN and resumed.isolation_items == ()


def test_a_procedure_inside_another_ends_in_the_outer_one():
    inside = after(ProcedureStarted(procedure=CHAIN, steps=3), ProcedureStarted(procedure=ISOLATE, steps=1))
    assert inside.step == f"{ISOLATE}#1" and len(inside.procedures) == 2
    out = after(
        ProcedureStarted(procedure=CHAIN, steps=3),
        ProcedureStarted(procedure=ISOLATE, steps=1),
        StepConfirmed(procedure=ISOLATE, step=1),
    )
    assert out.step == f"{CHAIN}#1" and out.finished == (ISOLATE,)


def test_a_procedure_started_anew_begins_at_its_first_step():
    state = after(
        ProcedureStarted(procedure=CHAIN, steps=3),
        StepConfirmed(procedure=CHAIN, step=1),
        ProcedureStarted(procedure=ISOLATE, steps=2),
        ProcedureStarted(procedure=CHAIN, steps=3),
    )
    assert state.step == f"{CHAIN}#1" and len(state.procedures) == 1


def test_hold_items_belong_to_their_step():
    start = (ProcedureStarted(procedure=ISOLATE, steps=2), HoldConfirmed(procedure=ISOLATE, step=1, item="off"))
    assert after(*start).position.holds == ("off",)
    assert after(*start, StepConfirmed(procedure=ISOLATE, step=1)).position.holds == ()


@pytest.mark.parametrize(
    "voiding",
    [IsolationVoided(reason="power on"), EnergyDeclared(energy=Energy.RUNNING), EnergyDeclared(energy=Energy.STOPPED)],
)
def test_an_isolation_ends_with_whatever_takes_it_back(voiding):
    isolated = (EnergyDeclared(energy=Energy.ISOLATED, items=("off",)),)
    assert after(*isolated).energy is Energy.ISOLATED
    state = after(*isolated, voiding)
    assert state.energy is not Energy.ISOLATED and state.isolation_items == ()


def test_a_repair_after_a_passed_proof_has_to_be_proved_again():
    assert after(RepairDone(repair="a"), ProofPassed()).proved
    again = after(RepairDone(repair="a"), ProofPassed(), RepairDone(repair="b"))
    assert not again.proved and again.unproved == ("b",)
    assert not after(RepairDone(repair="a"), ProofPassed(), ProofFailed()).proved


def test_an_answer_taken_back_opens_the_check_and_costs_its_minutes_all_the_same():
    state = after(CheckAnswered(check="c", outcome="x", minutes=3), AnswerRevised(check="c", to=Standing.OPEN))
    assert state.standings == () and state.minutes == 3 and len(state.belief) == 2


def test_the_log_for_isolation_keeps_its_order():
    state = after(*STORY)
    assert [d.kind.value for d in state.belief] == [
        "check-answered", "reading-taken", "not-known", "check-impossible", "answer-revised", "repair-impossible",
        "repair-done", "proof-failed", "repair-done", "proof-passed",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("before", "refused", "reason"),
    [
        ((), OPENING, "open already"),
        ((), Amended(reason="x"), "nothing to amend"),
        ((), AnswerRevised(check="c", to=Standing.OPEN), "Nothing was said"),
        ((CheckAnswered(check="c", outcome="x"),), AnswerRevised(check="c", to=Standing.ANSWERED), "does not belong"),
        ((), StepConfirmed(procedure=CHAIN, step=1), "not being worked on"),
        ((ProcedureStarted(procedure=CHAIN, steps=3),), StepConfirmed(procedure=CHAIN, step=2), "step 1 is"),
        ((ProcedureStarted(procedure=CHAIN, steps=3),), StepSkipped(procedure=ISOLATE, step=1, reason=""), "not being worked"),
        ((), ProcedureStarted(procedure=CHAIN, steps=0), "no steps"),
        ((), CheckAnswered(check="c", outcome="x", minutes=-1), "no minutes"),
        ((), CheckAnswered(check="c", outcome="x", minutes=float("nan")), "no minutes"),
        ((), ReadingTaken(check="c", value=float("inf"), unit="V"), "no reading"),
        ((), Closed(found=(Share(name="a", share=0.4), Share(name="b", share=0.4))), "sum to 0.8"),
        ((), Closed(found=(Share(name="a", share=0.5), Share(name="a", share=0.5))), "named twice"),
        ((), Closed(found=(Share(name="a", share=-1), Share(name="b", share=2))), "sum to 1"),
        ((Left(machine_state="x"),), CheckAnswered(check="c", outcome="x"), "was left"),
        ((Closed(),), NoteTaken(text="x"), "was closed at"),
        ((Closed(),), Resumed(), "was closed at"),
        ((Closed(),), Closed(), "was closed at"),
    ],
)  # fmt: skip
def test_what_a_job_cannot_take_is_refused_with_its_reason(before, refused, reason):
    with pytest.raises(EventRefused, match=reason) as caught:
        after(*before, refused)
    assert caught.value.hint


def test_a_job_begins_by_being_opened_and_its_numbers_have_no_gap():
    with pytest.raises(EventRefused, match="no beginning"):
        replayed(events_of([NoteTaken(text="x")]))
    with pytest.raises(RecordBroken, match="without events"):
        replayed([])
    first, _, third = events_of([OPENING, NoteTaken(text="a"), NoteTaken(text="b")])
    with pytest.raises(RecordBroken, match="Event 3 .* where event 2 belongs"):
        replayed([first, third])


names = st.sampled_from(["p", "q"])
checks = st.sampled_from(["c1", "c2", "c3"])
minutes = st.sampled_from([0.0, 0.5, 3.0])
details = st.one_of(
    st.builds(
        CheckAnswered, check=checks, outcome=st.sampled_from(["x", "y"]), said=st.text(max_size=8), minutes=minutes
    ),
    st.builds(NotKnown, check=checks, minutes=minutes),
    st.builds(AnswerRevised, check=checks, to=st.sampled_from([Standing.OPEN, Standing.NOT_KNOWN])),
    st.builds(AnswerRevised, check=checks, to=st.just(Standing.ANSWERED), outcome=st.just("z")),
    st.builds(RepairDone, repair=names, minutes=minutes),
    st.builds(ProofPassed, minutes=minutes),
    st.builds(ProofFailed, minutes=minutes),
    st.builds(ProcedureStarted, procedure=names, steps=st.integers(1, 3)),
    st.builds(StepConfirmed, procedure=names, step=st.integers(1, 3), minutes=minutes),
    st.builds(StepSkipped, procedure=names, step=st.integers(1, 3), reason=st.text(max_size=5)),
    st.builds(ProcedureStopped, procedure=names, reason=st.just("r")),
    st.builds(EnergyDeclared, energy=st.sampled_from(list(Energy)), items=st.just(())),
    st.builds(IsolationItemConfirmed, item=st.sampled_from(["off", "locked"])),
    st.builds(IsolationVoided, reason=st.just("r")),
    st.builds(NoteTaken, text=st.text(max_size=8)),
    st.builds(Left, machine_state=st.just("s")),
    st.builds(Resumed),
    st.builds(Closed),
    st.builds(Amended, reason=st.text(max_size=8)),
)


def accepted(drawn):
    """The events that a job takes of those drawn, and its state after each."""
    events, state = events_of([OPENING]), None
    state = folded(None, events[0])
    for detail in drawn:
        event = replace(events_of([detail])[0], seq=state.seq + 1)
        try:
            state = folded(state, event)
        except EventRefused:
            continue
        events.append(event)
    return events, state


def told_backwards(events):
    """Energy, status, proof, minutes and standings read off the log from its end, in another way than the fold does."""
    back = [event.detail for event in reversed(events)]
    energy = Energy.UNKNOWN
    for detail in back:
        if isinstance(detail, IsolationVoided | Resumed):
            break
        if isinstance(detail, EnergyDeclared):
            energy = detail.energy
            break
    turning = next((d for d in back if isinstance(d, Left | Resumed | Closed | Opened)), None)
    status = {Left: JobStatus.LEFT_OPEN, Closed: JobStatus.CLOSED}.get(type(turning), JobStatus.OPEN)
    proof = next((d for d in back if isinstance(d, RepairDone | ProofPassed | ProofFailed)), None)
    outcomes = {}
    for detail in reversed(back):
        if isinstance(detail, CheckAnswered):
            outcomes[detail.check] = detail.outcome
        elif isinstance(detail, NotKnown):
            outcomes[detail.check] = ""
        elif isinstance(detail, AnswerRevised):
            outcomes[detail.check] = detail.outcome
            if detail.to is Standing.OPEN:
                del outcomes[detail.check]
    return energy, status, isinstance(proof, ProofPassed), sum(getattr(d, "minutes", 0.0) for d in back), outcomes


@settings(max_examples=300, deadline=None)
@given(st.lists(details, max_size=25))
def test_replay_is_the_state_after_any_sequence(drawn):
    events, state = accepted(drawn)
    assert replayed(events) == state
    told = (state.energy, state.job.status, state.proved, state.minutes, {s.check: s.outcome for s in state.standings})
    assert told == told_backwards(events)
    for at_work in state.procedures:
        assert 1 <= at_work.next_step <= at_work.steps


@settings(max_examples=12, deadline=None)
@given(drawn=st.lists(details, max_size=20))
def test_the_disk_gives_back_the_state_after_any_sequence(drawn, tmp_path_factory):
    path = tmp_path_factory.mktemp("record") / "jobs.sqlite3"
    with open_ledger(path, alive=lambda pid: True) as ledger:
        job = begin(ledger)
        state = ledger.state(job)
        for detail in drawn:
            if state.job.status is not JobStatus.CLOSED:
                ledger.take(job, mark(), at(1))
            try:
                state = folded(state, ledger.append(job, detail, at=at(state.seq), who="ada", mark=mark()))
            except EventRefused:
                continue
    with open_ledger(path) as again:
        assert again.state(job) == state
        assert again.verify() == state.seq


def test_the_story_comes_back_from_the_disk_as_it_was_told(ledger):
    job = whole_story(ledger)
    assert [event.detail for event in ledger.events(job)] == [OPENING, *STORY]
    assert ledger.state(job) == after(*STORY)
