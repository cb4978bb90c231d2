"""Guided work as a conversation: what is offered in which state, how answers are taken, how it is left."""

import random
from dataclasses import replace

import pytest

from assistant.dialogue.cause_named import cheapest_cure
from assistant.dialogue.session import Session
from assistant.domain.answer import Outcome
from assistant.domain.fault_log import (
    Answered,
    CantCheck,
    DontKnow,
    ProofFailed,
    ProofPassed,
    ReadingNear,
    Repaired,
    Revised,
)
from assistant.domain.guide import Isolating, Pacing, Work
from assistant.domain.terms import Energy, Hazard
from assistant.domain.turn import PendingKind, State
from assistant.rendering.spoken import spoken
from assistant.rendering.terminal import Style, render
from assistant.rules import phrases

pytestmark = pytest.mark.engine
SLOW = "guide me through the turntable turns slowly with heavy loads"
CHAIN = "walk me through setting the turntable chain tension"


def session(assistant, *said, machine="drumlin"):
    talk = Session(assistant, machine)
    return talk, [talk.say(text) for text in said]


def at_check(assistant, fault="drumlin/fault/turntable-slow", check="time-turns"):
    """A hunt in which only that check is left, in its state: what the planner would rather do is withdrawn."""
    model = next(f for f in assistant.knowledge.faults if f.full_id == fault)
    wanted = next(c for c in model.checks if c.id == check)
    log = [CantCheck(check=c.id) for c in model.checks if c.id != check]
    talk = Session(assistant, model.pack)
    hunt = Isolating(fault=model.full_id, log=tuple(log))
    before = replace(talk.conversation, work=Work(isolating=hunt), state=State(energy=wanted.energy))
    answer, talk.conversation = assistant.guide.present(_utterance("go on"), before)
    assert talk.conversation.state.step == f"{fault}#{check}"
    return talk, answer


def isolate(assistant, talk):
    answer = None
    for _ in assistant.knowledge.energy.items("drumlin"):
        answer = talk.say("yes")
    return answer


def log_of(talk):
    return talk.conversation.work.isolating.log


def test_nothing_is_offered_before_the_state_was_declared(assistant):
    talk, (answer,) = session(assistant, SLOW)
    assert answer.pending.choices == phrases.STATES and answer.outcome is Outcome.CHECK
    assert {w.hazard for w in answer.warnings} >= {Hazard.ELECTRIC_SHOCK, Hazard.ENTANGLEMENT}
    assert answer.sources == ("drumlin/fault/turntable-slow",) and talk.conversation.state.energy is Energy.UNKNOWN


def test_a_check_shows_how_why_and_what_may_be_found(assistant):
    talk, answers = session(assistant, SLOW, "stopped")
    answer = answers[-1]
    texts = [line.text for line in answer.body]
    assert answer.outcome in (Outcome.CHECK, Outcome.READING)
    assert phrases.WHY_THIS in texts and phrases.LIKELY_NOW in texts
    assert answer.pending.choices[-2:] == (phrases.DONT_KNOW, phrases.CANT)
    assert any("█" in text and "%" in text for text in texts)


@pytest.mark.parametrize("seed", range(30))
def test_no_act_is_offered_in_a_state_that_was_not_declared(assistant, seed):
    """Random technicians on random faults: every check, repair and proof comes only in the state that it needs, and it ends."""
    chance = random.Random(seed)
    fault = chance.choice(assistant.knowledge.faults)
    checks = {c.id: c for c in fault.checks}
    repairs = {r.id: r for r in fault.repairs}
    talk = Session(assistant, fault.pack)
    answer, talk.conversation = assistant.begin(_utterance("go"), talk.conversation, fault.full_id)
    for _ in range(12 * (len(checks) + len(repairs)) + 40):
        energy = talk.conversation.state.energy
        part = (talk.conversation.state.step or "").rpartition("#")[2]
        if answer.outcome in (Outcome.CHECK, Outcome.READING) and part in checks:
            check = checks[part]
            assert energy in (check.energy, *check.also) or check.energy is Energy.UNKNOWN
        if answer.outcome is Outcome.STEP and part in repairs:
            assert energy is repairs[part].energy or repairs[part].energy is Energy.UNKNOWN
        if part == "proof":
            assert energy is fault.proof.energy
        if answer.pending is None:
            break
        said = "yes" if answer.pending.choices == ("yes", "no") else chance.choice(answer.pending.choices)
        answer = talk.say(said)
    assert talk.conversation.work.isolating.over in ("proved", "handed over")


def _utterance(text):
    from assistant.domain.utterance import Utterance

    return Utterance(text=text)


def test_isolated_work_comes_only_after_every_item(assistant):
    talk, _ = session(assistant, SLOW, "stopped", "i found it: chain is dry")
    assert talk.conversation.pending.kind is PendingKind.CONFIRM
    for _ in assistant.knowledge.energy.items("drumlin")[:-1]:
        answer = talk.say("yes")
        assert answer.outcome is Outcome.DONE and talk.conversation.state.energy is not Energy.ISOLATED
    answer = talk.say("yes")
    assert answer.outcome is Outcome.STEP and talk.conversation.state.energy is Energy.ISOLATED
    assert answer.lead.startswith("Ease") or "chain" in answer.lead.lower()


def test_power_back_voids_the_isolation_in_the_middle(assistant):
    talk, _ = session(assistant, SLOW, "stopped", "i found it: chain is dry")
    isolate(assistant, talk)
    answer = talk.say("power is back on")
    assert talk.conversation.state.energy is Energy.RUNNING and talk.conversation.confirmed == ()
    assert answer.outcome is Outcome.STEP and answer.lead == phrases.ISOLATE_FIRST
    assert answer.body[0].text == phrases.POWER_BACK


def test_an_answer_in_other_words_is_asked_back_and_a_no_lists_the_outcomes(assistant):
    talk, _ = at_check(assistant)
    before = log_of(talk)
    answer = talk.say("goes fine empty, crawls with a load on")
    assert answer.outcome is Outcome.ASK_AGAIN and answer.pending.choices == ("yes", "no") and log_of(talk) == before
    again = talk.say("no")
    assert (
        again.outcome is Outcome.ASK_AGAIN and "slows only loaded" in again.pending.choices and log_of(talk) == before
    )
    talk.say("goes fine empty, crawls with a load on")
    talk.say("yes")
    assert log_of(talk)[-1] == Answered(check="time-turns", outcome="slows only loaded")


def test_an_answer_that_fits_nothing_is_asked_again_with_the_outcomes(assistant):
    talk, first = at_check(assistant)
    answer = talk.say("banana")
    assert answer.outcome is Outcome.ASK_AGAIN and answer.pending == first.pending
    assert answer.body == () and len(answer.pending.choices) > 3  # the choices stand once, with the question


def test_outcomes_with_a_figure_are_listed_when_nothing_fits(assistant):
    # "sinks with 307" was withheld as a figure out of nowhere, and with it the whole list
    talk, (*_, answer) = session(assistant, "guide me through the carriage slides down while stopped", "stopped")
    assert talk.conversation.state.step == "drumlin/fault/carriage-sinks#code-307"
    again = talk.say("no wait, it was blocked")
    assert again.lead != phrases.WITHHELD_TEXT and again.pending == answer.pending
    assert {"sinks with 307", "stays put"} <= set(again.pending.choices)


def at_items(assistant, *said):
    """A hunt whose next check needs isolation, at its first item, and what is said there."""
    talk, _ = session(assistant, "guide me through only the turntable is dead", "running", "don't know", "it just hums")
    assert talk.conversation.pending.text.startswith("Is QB1 off")
    return talk, [talk.say(text) for text in said]


def test_the_page_that_asks_for_isolation_does_not_say_that_it_is_isolated(assistant):
    talk, (page,) = at_items(assistant, "go on")
    page, _ = assistant.guide.present(_utterance("go on"), talk.conversation)
    assert page.lead == phrases.ISOLATE_FIRST and not any("locked off" in line.text for line in page.body)


@pytest.mark.parametrize("said", ["next", "skip", "where was I", "repeat"])
def test_at_an_item_a_command_passes_nothing_and_says_the_item_again(assistant, said):
    talk, (_, answer) = at_items(assistant, "yes", said)
    assert talk.conversation.confirmed == ("off",) and "own lock" in answer.pending.text
    assert phrases.PROCEDURE_DONE not in [line.text for line in answer.body]
    assert (answer.lead == phrases.NO_ITEM_SKIP) == (said in ("next", "skip"))


def test_at_an_item_back_takes_the_last_one_back_and_before_the_first_the_last_answer(assistant):
    talk, (_, back) = at_items(assistant, "yes", "back")
    assert talk.conversation.confirmed == () and back.lead.startswith("Taken back: QB1 off")
    talk.say("back")
    assert log_of(talk)[-1].to is None and "hums" in talk.conversation.pending.choices


def test_at_an_item_the_last_answer_can_be_corrected_and_a_cause_named(assistant):
    talk, (answer,) = at_items(assistant, "no wait, it was silent")
    assert log_of(talk)[-1].to.outcome == "silence" and phrases.CORRECTED in answer.body[0].text
    talk, (again, why) = at_items(assistant, "no wait, it was purple", "why")
    assert again.lead == phrases.CORRECTS_NOTHING and again.pending.text.startswith("Is QB1 off")
    assert any(line.text == phrases.WHY_THIS for line in why.body)
    talk, (found,) = at_items(assistant, "I found it: ring is jammed by wood")
    assert talk.conversation.work.isolating.chosen


def test_at_an_item_neither_yes_nor_no_is_told_so_and_why_keeps_the_place(assistant):
    talk, (_, odd, why, _) = at_items(assistant, "yes", "purple", "why", "yes")
    assert odd.lead == phrases.AGAIN_ITEM and odd.body == ()
    assert "own lock" in why.pending.text and talk.conversation.confirmed == ("off", "locked")


def test_a_code_that_comes_up_in_the_middle_is_told_and_leads_back(assistant):
    talk, _ = session(assistant, SLOW, "stopped")
    for said in ("it shows 204", "code 205 came up"):
        answer = talk.say(said)
        assert (
            answer.outcome is Outcome.ANSWERED and answer.sources[0] == f"drumlin/code/{[c for c in answer.codes][0]}"
        )
        due, _ = assistant.guide.hunt.page(talk.conversation.work.isolating, Energy.STOPPED)
        assert talk.conversation.pending == due.pending and talk.conversation.work.going_on
    assert log_of(talk) == tuple(Answered(check=f"code {code}", outcome="shown", seen=code) for code in ("204", "205"))


def test_a_correction_replaces_the_last_answer(assistant):
    talk, _ = at_check(assistant)
    talk.say("slows only loaded")
    talk.say("no wait, it keeps its speed")
    assert log_of(talk)[-1] == Revised(check="time-turns", to=Answered(check="time-turns", outcome="keeps its speed"))


def test_back_opens_the_last_check_again_and_skip_withdraws_it(assistant):
    talk, first = at_check(assistant)
    talk.say("slows only loaded")
    answer = talk.say("back")
    assert log_of(talk)[-1] == Revised(check="time-turns", to=None) and answer.lead == first.lead
    talk.say("don't know")
    assert log_of(talk)[-1] == DontKnow(check="time-turns")
    talk.say("back")
    talk.say("can't check")
    assert log_of(talk)[-1] == CantCheck(check="time-turns")


def test_why_names_what_outcomes_leave(assistant):
    talk, first = at_check(assistant)
    answer = talk.say("why")
    texts = " ".join(line.text for line in answer.body)
    assert phrases.WHY_THIS in texts and phrases.OUTCOMES_LEAVE in texts and phrases.MINUTES_TO_END in texts
    assert answer.pending == first.pending


def test_a_question_in_the_middle_is_answered_and_leads_back(assistant):
    talk, first = at_check(assistant)
    answer = talk.say("where is FC3?")
    assert answer.outcome is Outcome.ANSWERED and answer.lead == "Controller fuse FC3."
    assert answer.pending == first.pending
    assert phrases.BACK_TO in [line.text for line in answer.body]
    assert talk.say("where was I").lead == first.lead


def test_a_wish_to_defeat_a_guard_is_refused_in_the_middle_too(assistant):
    talk, answers = session(assistant, SLOW, "running", "can i tape the gate switch shut just for today")
    assert answers[-1].outcome is Outcome.REFUSED and talk.conversation.work.going_on


def test_a_repair_is_proved_and_the_job_ends(assistant):
    talk, _ = session(assistant, SLOW, "stopped", "i found it: chain is dry")
    isolate(assistant, talk)
    answer = talk.say("done")
    assert isinstance(log_of(talk)[-1], Repaired) and answer.lead == phrases.RESTORE_FIRST
    answer = talk.say("running")
    while answer.pending is not None:
        assert answer.pending.text == phrases.DID_IT_PASS
        answer = talk.say("it is gone")
    assert answer.outcome is Outcome.DONE and answer.lead == phrases.CURED
    assert isinstance(log_of(talk)[-1], ProofPassed) and not talk.conversation.work.going_on


def test_a_failed_proof_goes_on_with_the_hunt(assistant):
    talk, _ = session(assistant, SLOW, "stopped", "i found it: chain is dry")
    isolate(assistant, talk)
    for said in ("done", "running", "still there"):
        answer = talk.say(said)
    assert isinstance(log_of(talk)[-1], ProofFailed) and answer.pending is not None


def test_leaving_says_the_state_and_what_must_not_be_done(assistant):
    talk, _ = session(assistant, CHAIN)
    isolate(assistant, talk)
    talk.say("done")
    answer = talk.say("I have to go")
    texts = [line.text for line in answer.body]
    assert answer.lead == phrases.STOPPED_HERE and phrases.NOT_FINISHED in texts
    assert any("lock and tag stay" in text for text in texts)
    assert not talk.conversation.work.going_on


# --- procedures


def test_a_step_that_needs_isolation_is_not_done_by_a_yes(assistant):
    talk, (first,) = session(assistant, CHAIN)
    assert first.pending.text == assistant.knowledge.energy.items("drumlin")[0].ask
    talk.say("no")
    for word in ("yes", "done", "next"):
        answer = talk.say(word)
        assert talk.conversation.work.pacing.at == 0 and talk.conversation.state.energy is not Energy.ISOLATED
        if answer.pending is not None and answer.pending.choices == ("yes", "no"):
            talk.say("no")


def test_hold_points_are_not_passed_by_next(assistant):
    talk, _ = session(assistant, CHAIN)
    isolate(assistant, talk)
    procedure = next(p for p in assistant.knowledge.procedures if p.full_id == talk.conversation.work.pacing.procedure)
    while not procedure.steps[talk.conversation.work.pacing.at].hold:
        talk.say("done")
    at = talk.conversation.work.pacing.at
    answer = talk.say("next")
    assert talk.conversation.work.pacing.at == at and answer.body[0].text == phrases.NO_NEXT
    talk.say("skip")
    assert talk.conversation.work.pacing.at == at
    talk.say("done")
    assert talk.conversation.work.pacing.at == at + 1


def test_a_reading_is_held_against_the_authored_limit(assistant):
    talk, _ = session(assistant, CHAIN)
    isolate(assistant, talk)
    while "Press the slack span" not in talk.say("done").lead:
        pass
    within = talk.say("twelve millimetres")
    assert within.lead == "twelve millimetres fits: 10 mm to 15 mm."
    outside = talk.say("25 mm")
    assert phrases.NOT_WITHIN in outside.lead
    assert talk.say("25 volts").lead == phrases.AGAIN_UNIT
    assert talk.say("twelve").lead == phrases.AGAIN_NO_UNIT
    assert talk.say("2300 mm").lead == phrases.AGAIN_IMPOSSIBLE
    assert len(talk.conversation.work.pacing.readings) == 2


def test_giving_the_supply_back_voids_the_isolation_before_it_is_done(assistant):
    talk, _ = session(assistant, CHAIN)
    isolate(assistant, talk)
    answer = None
    while answer is None or "restore-power" not in answer.lead:
        answer = talk.say("done")
    assert talk.conversation.state.energy is not Energy.ISOLATED


def test_a_whole_procedure_ends_and_where_was_i_always_tells_the_step(assistant):
    talk, _ = session(assistant, CHAIN)
    isolate(assistant, talk)
    for _ in range(40):
        lead = talk.say("repeat").lead
        assert talk.say("where was I").lead == lead
        answer = talk.say("done")
        if answer.outcome is Outcome.DONE:
            break
    assert answer.lead == phrases.PROCEDURE_DONE and talk.conversation.work.pacing is None


def test_a_code_leads_to_its_fault(assistant):
    talk, answers = session(assistant, "panel says 204", "guide me")
    assert talk.conversation.work.isolating is not None
    assert talk.conversation.work.isolating.fault.startswith("drumlin/fault/turntable")


def test_guided_work_needs_something_named(assistant):
    talk, answers = session(assistant, "guide me")
    assert answers[0].lead == phrases.NOTHING_TO_GUIDE and not talk.conversation.work.going_on


@pytest.mark.parametrize("said", ["2300 volts", "24 newton", "seven"])
def test_a_reading_that_cannot_be_is_asked_again(assistant, said):
    fault, check = next(
        (f, c) for f in assistant.knowledge.faults for c in f.checks
        if c.reading is not None and c.reading.unit.startswith("V") and c.reading.highest < 100 and not c.same_as
    )  # fmt: skip
    talk = Session(assistant, fault.pack)
    _, talk.conversation = assistant.begin(_utterance("go"), talk.conversation, fault.full_id)
    event = assistant.guide.hunt
    from assistant.dialogue.check_reply import reply_to_check

    reply = reply_to_check(said, check)
    result = event.event_of(_utterance(said), talk.conversation, check, reply)
    assert result in (phrases.AGAIN_IMPOSSIBLE, phrases.AGAIN_UNIT, phrases.AGAIN_NO_UNIT)


def test_a_reading_near_a_limit_stands_for_both_outcomes(assistant):
    seen = set()
    for fault in assistant.knowledge.faults:
        for check in fault.checks:
            for outcome in check.outcomes:
                name = outcome.within
                if check.reading is None or not name or fault.limits[name].max is None:
                    continue
                from assistant.isolation import read

                event = read(check, fault.limits, float(fault.limits[name].max), 0.01 * float(fault.limits[name].max))
                seen.add(type(event))
    assert ReadingNear in seen


def test_a_check_that_gives_the_supply_back_ends_the_isolation_when_it_is_answered(assistant):
    talk, _ = at_check(assistant, "drumlin/fault/panel-dark", "unload-supply")
    assert talk.conversation.state.energy is Energy.ISOLATED
    answer = talk.say("it lights without loads")
    assert log_of(talk)[-1].check == "unload-supply" and answer.state.energy is Energy.STOPPED
    assert any(line.text == phrases.SUPPLY_GIVEN_BACK for line in answer.body)


def test_why_says_each_outcome_once(assistant):
    talk, _ = at_check(assistant)
    why = talk.say("why")
    lines = [line.text for line in why.body if f" {phrases.LEAVES} " in line.text]
    assert len(lines) == len(set(lines)) == len(why.pending.choices) - 2  # without don't know and can't check


@pytest.mark.parametrize(
    ("said", "asked", "lead"),
    [
        (["twenty three point eight volts"], phrases.WHICH_STATE, phrases.NO_READING_NOW),
        (["purple"], phrases.WHICH_STATE, phrases.AGAIN_STATE),
        (["stopped", "it reads 24 volts"], phrases.WHAT_FOUND, phrases.NO_READING_NOW),
        (["stopped", "found it: drive TA1 tripped", "purple"], phrases.IS_IT_DONE, phrases.AGAIN_DONE),
        (["running", "found it: drive TA1 tripped", "purple"], phrases.SAY_WHEN, phrases.AGAIN_STATE),
    ],
)
def test_what_cannot_be_taken_is_told_in_the_words_of_what_is_asked(assistant, said, asked, lead):
    talk, answers = session(assistant, "guide me through only the turntable is dead", *said)
    assert answers[-1].lead == lead and answers[-1].pending.text == asked and talk.conversation.work.going_on


def test_back_after_a_correction_opens_that_check_and_then_the_one_before(assistant):
    talk, _ = session(assistant, "guide me through only the turntable is dead", "running", "no such code", "silent")
    talk.say("no wait, it hums")
    first, second = [talk.say("back"), talk.say("back")]
    assert "hums" in first.pending.choices and "no such code" in second.pending.choices
    assert phrases.NO_BACK not in [line.text for line in (*first.body, *second.body)]
    assert phrases.NO_BACK in [line.text for line in talk.say("back").body]


def test_who_cannot_isolate_leaves_out_what_needs_it_before_the_first_item_only(assistant):
    talk, (left,) = at_items(assistant, "can't check")
    assert isinstance(log_of(talk)[-1], CantCheck) and left.body[0].text == "Left out: Ring by hand."
    talk, (_, kept) = at_items(assistant, "yes", "can't check")
    assert kept.lead == phrases.NO_ITEM_SKIP and talk.conversation.confirmed == ("off",)


def test_what_answers_the_last_word_is_shown_and_said_before_what_comes_next(assistant):
    talk, (corrected,) = at_items(assistant, "no wait, it was silent")
    for told in (render(corrected, Style()), " ".join(line.shown for line in spoken(corrected))):
        assert told.index("Corrected: Sound of MA1") < told.index(corrected.lead)


@pytest.mark.parametrize(
    ("fault", "cause", "repair"),
    [
        (
            "skerry/fault/tape-not-cut",
            "teeth-gummed",
            "clean-teeth",
        ),  # (6 + 4) / 0.9 = 11 min, new knife (12 + 4) / 0.95 = 17
        (
            "drumlin/fault/turntable-jerks",
            "chain-slack",
            "set-chain",
        ),  # (35 + 8) / 0.93 = 46 min, new chain 88 / 0.95 = 93
        ("drumlin/fault/turntable-dead-mast-works", "chain-off", "refit-chain"),
    ],
)
def test_what_was_found_is_mended_the_cheapest_way_first(assistant, fault, cause, repair):
    model = next(f for f in assistant.knowledge.faults if f.full_id == fault)
    assert cheapest_cure(model, cause).id == repair


def test_no_chance_speaks_against_what_was_seen(assistant):
    talk, _ = session(assistant, "guide me through pallets stop on the straight rollers", "stopped", machine="fellgate")
    talk.say("found it: chain is slack")
    for _ in assistant.knowledge.energy.items("fellgate"):
        repair = talk.say("yes")
    change, proof = talk.say("done"), talk.say("power is on")
    assert proof.pending.text == phrases.DID_IT_PASS and change.pending.text == phrases.SAY_WHEN
    for page in (repair, change, proof):
        assert not any("%" in line.text for line in page.body)


def at_step(assistant, number):
    """Setting the chain, isolated, at that step."""
    talk = Session(assistant, "drumlin")
    pace = Pacing(procedure="drumlin/procedure/set-chain-tension", at=number - 1)
    isolated = State(energy=Energy.ISOLATED)
    before = replace(talk.conversation, work=Work(pacing=pace), state=isolated, isolated="drumlin", scope="drumlin")
    answer, talk.conversation = assistant.guide.present(_utterance("go on"), before)
    return talk, answer


@pytest.mark.parametrize(
    ("said", "told"),
    [
        (["128 mm"], "128 mm fits: at most 128.9 mm."),
        (["129.5 mm"], "129.5 mm does not fit: at most 128.9 mm."),
        (["128", "millimetres"], "128 millimetres fits: at most 128.9 mm."),
        (["1289 mm"], phrases.AGAIN_IMPOSSIBLE),
        (["128"], phrases.AGAIN_NO_UNIT),
        (["128", "no idea"], phrases.AGAIN_DONE),
    ],
)
def test_a_figure_at_a_step_is_answered_in_one_line_and_the_step_is_not_said_again(assistant, said, told):
    talk, step = at_step(assistant, 3)
    answers = [talk.say(text) for text in said]
    assert answers[-1].lead == told and answers[-1].pending == step.pending
    assert step.lead not in [line.text for line in answers[-1].body]
    said_not = [line.text for line in answers[-1].body]
    assert said_not == (["Stop here and go on with replace-chain."] if "does not" in told else [])


def test_skip_is_offered_only_where_it_is_taken(assistant):
    for number in range(2, 16):
        talk, step = at_step(assistant, number)
        answer = talk.say("skip")
        refused = phrases.NO_SKIP in [line.text for line in answer.body]
        assert ("skip" in step.pending.choices) is not refused, number


def test_a_step_says_its_place_first_and_names_the_procedure_when_asked_where(assistant):
    talk, step = at_step(assistant, 4)
    assert step.body[0].text == "Step 4 of 15." and step.body[0].ahead
    assert talk.say("where was I").body[0].text == "Step 4 of 15: Set the tension of the turntable chain."


def test_left_in_the_middle_the_work_stands_apart_from_what_gives_the_supply_back(assistant):
    talk, _ = at_step(assistant, 9)
    lines = [line.text for line in talk.say("stop and keep").body]
    before, after = lines.index(phrases.NOT_FINISHED), lines.index(phrases.NOT_PROVED)
    assert any("guard and the hatch" in text for text in lines[before:after])
    assert "Give the supply back as restore-power says." in lines[after:]


def test_a_figure_without_its_unit_waits_for_it_at_a_check(assistant):
    talk, _ = at_check(assistant, "drumlin/fault/eye-always-blocked", "terminal-volts")
    assert talk.say("twenty three").lead == phrases.AGAIN_NO_UNIT
    talk.say("volts")
    assert isinstance(log_of(talk)[-1], Answered | ReadingNear) and talk.conversation.figure == ""


@pytest.mark.parametrize(("said", "cause"), [("the second one", 1), ("2", 1), ("number one", 0), ("1", 0)])
def test_which_cause_is_chosen_by_its_place_in_the_list_that_was_read_out(assistant, said, cause):
    talk, (*_, which) = session(
        assistant, "guide me through carriage sinks slowly when the drive stops", "stopped", "found it: a key or a gear"
    )
    assert which.pending.text == phrases.WHICH_CAUSE and len(which.pending.choices) == 2
    shown, told = render(which, Style()), [line.text for line in spoken(which)]
    assert shown.count(which.pending.choices[0]) == 1 and sum(which.pending.choices[0] in text for text in told) == 1
    assert shown.index(phrases.WHICH_CAUSE) < shown.index(which.pending.choices[0])
    answer = talk.say(said)
    assert answer.body[0].text == f"{phrases.FOUND_CAUSE} {which.pending.choices[cause]}."


def test_back_at_the_list_of_causes_returns_to_what_was_due(assistant):
    talk, _ = session(assistant, "guide me through only the turntable is dead", "running", "no such code")
    due = talk.conversation.pending
    talk.say("found it: something odd")
    talk.say("back")
    assert talk.conversation.pending == due and len(log_of(talk)) == 1


def test_a_pass_that_is_not_enough_is_told_and_the_next_one_ends_it(assistant):
    talk, _ = session(
        assistant, "guide me through tape is not cut", "stopped", "found it: glue on the teeth", machine="skerry"
    )
    for _ in assistant.knowledge.energy.items("skerry"):
        talk.say("yes")
    talk.say("done")
    proof, wanted = talk.say("it's running"), 3
    while wanted > 1:
        assert f"{phrases.PASSES} {wanted}." in [line.text for line in proof.body]
        proof, wanted = talk.say("yes"), wanted - 1
        assert proof.pending.text == phrases.DID_IT_PASS and proof.body[0].text == phrases.PASSED_NOT_SURE
    assert talk.say("it is gone").outcome is Outcome.DONE and not talk.conversation.work.going_on
