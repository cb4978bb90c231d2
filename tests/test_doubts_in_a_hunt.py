"""What a hunt says when a proof fails though the cure was likely, how often it wants the proof, and an answer that fits nothing."""

from dataclasses import replace

import pytest

from assistant.dialogue.session import Session
from assistant.domain.answer import Outcome
from assistant.domain.fault_log import Answered, ProofFailed, ProofPassed, Repaired, Revised
from assistant.domain.guide import Isolating, Work
from assistant.domain.terms import Energy
from assistant.domain.turn import State
from assistant.domain.utterance import Utterance
from assistant.isolation import contradiction
from assistant.isolation.progress import cure_chance, progress
from assistant.isolation.proof import passes_needed, uncured_after
from assistant.rules import phrases

pytestmark = pytest.mark.engine


def model_of(assistant, fault):
    return assistant.guide.hunt.isolator_of(fault).model


def hunting(assistant, fault, log, energy):
    talk = Session(assistant, fault.pack)
    before = replace(
        talk.conversation,
        work=Work(isolating=Isolating(fault=fault.full_id, log=tuple(log))),
        state=State(energy=energy),
    )
    answer, talk.conversation = assistant.guide.present(Utterance(text="go on"), before)
    return talk, answer


def texts(answer):
    return [line.text for line in answer.body]


def likely_cures(assistant):
    """Faults with answers after which one repair cures with four fifths and more, and that repair."""
    for fault in assistant.knowledge.faults:
        model = model_of(assistant, fault)
        for cause in model.causes[:-1]:
            at = model.causes.index(cause)
            log = tuple(
                Answered(
                    check=c.id, outcome=max(zip(c.likelihood, c.outcomes, strict=True), key=lambda pair: pair[0][at])[1]
                )
                for c in model.checks
                if c.offered
            )
            for repair in model.repairs:
                done = (*log, Repaired(repair=repair.id))
                if cure_chance(model, progress(model, done)) >= 0.8:
                    yield fault, model, done


def with_several_passes(assistant):
    for fault, model, done in likely_cures(assistant):
        many = passes_needed(cure_chance(model, progress(model, done)), model.passes_anyway)
        if many > 1:
            return fault, model, done, many
    raise AssertionError("no authored fault asks for its proof twice")


def test_an_intermittent_fault_is_proved_as_often_as_leaves_two_in_a_hundred(assistant):
    fault, model, done, many = with_several_passes(assistant)
    cure = cure_chance(model, progress(model, done))
    assert uncured_after(cure, model.passes_anyway, many) <= 0.02 < uncured_after(cure, model.passes_anyway, many - 1)
    talk, answer = hunting(assistant, fault, done, model.proof_energy)
    assert answer.pending.text == phrases.DID_IT_PASS and f"{phrases.PASSES} {many}." in texts(answer)
    for left in range(many - 1, 0, -1):
        answer = talk.say("it is gone")
        assert answer.pending.text == phrases.DID_IT_PASS
        assert (f"{phrases.PASSES} {left}." in texts(answer)) is (left > 1)
    answer = talk.say("it is gone")
    assert answer.lead == phrases.CURED
    log = talk.conversation.work.isolating.log
    assert sum(isinstance(event, ProofPassed) for event in log) == many


def test_a_surprising_failed_proof_is_said_and_opens_what_spoke_for_the_repair(assistant):
    fault, model, done = next(
        (fault, model, done)
        for fault, model, done in likely_cures(assistant)
        if any(
            e.outcome
            != model.checks[model.check_index(e.check)].outcomes[model.checks[model.check_index(e.check)].normal]
            for e in done[:-1]
        )
    )
    talk, _ = hunting(assistant, fault, done, model.proof_energy)
    answer = talk.say("still there")
    log = talk.conversation.work.isolating.log
    assert isinstance(log[-1], ProofFailed) and phrases.SURPRISING in texts(answer)
    at = progress(model, log)
    for event in done[:-1]:
        check = model.checks[model.check_index(event.check)]
        kept = at.answers[model.check_index(event.check)] is not None
        assert kept is (event.outcome == check.outcomes[check.normal])


def test_an_expected_failed_proof_is_no_surprise(assistant):
    fault = next(f for f in assistant.knowledge.faults if len(f.repairs) > 3)
    model = model_of(assistant, fault)
    repair = min(model.repairs, key=lambda r: cure_chance(model, progress(model, (Repaired(repair=r.id),))))
    talk, _ = hunting(assistant, fault, (Repaired(repair=repair.id),), model.proof_energy)
    assert phrases.SURPRISING not in texts(talk.say("still there"))


def test_the_suspect_is_named_taken_again_and_believed_the_second_time(assistant):
    fault, log = next(
        (fault, tuple(ringing))
        for fault, model, done in likely_cures(assistant)
        for i, event in enumerate(done[:-1])
        for outcome in model.checks[model.check_index(event.check)].outcomes
        if (ringing := [*done[:i], *done[i + 1 : -1], Answered(check=event.check, outcome=outcome)])
        and contradiction(model, ringing).alarm
        and contradiction(model, ringing).suspects[0].check == event.check
    )
    model, check = model_of(assistant, fault), log[-1].check
    # the next work there is a repair in isolation; its confirmation would take the word for itself
    talk, answer = hunting(assistant, fault, log, Energy.ISOLATED)
    assert answer.outcome is Outcome.STEP
    assert phrases.CONTRADICTION in texts(answer) and phrases.RETAKE in texts(answer)
    title = next(c.title for c in fault.checks if c.id == check)
    assert any(text.startswith(title) for text in texts(answer))
    talk.say("check again")
    now = talk.conversation.work.isolating.log
    assert now[-1] == Revised(check=check, to=None)
    _, answer = hunting(assistant, fault, (*now, log[-1]), Energy.ISOLATED)
    suspects = [s.check for s in contradiction(model, (*now, log[-1])).suspects]
    assert suspects[0] != check or phrases.CONTRADICTION not in texts(answer)
