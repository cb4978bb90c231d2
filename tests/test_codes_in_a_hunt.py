"""A code in guided work: it starts a hunt, comes in the middle, is put right, and is there again when the job is resumed."""

import json

import pytest

from assistant.dialogue.hearing import HearingSession
from assistant.dialogue.session import Session
from assistant.domain.answer import Outcome
from assistant.domain.fault_log import Answered, Repaired, Revised
from assistant.domain.job_events import AnswerRevised, EvidenceSeen
from assistant.domain.job_terms import Standing
from assistant.domain.panel import NO_CODE, answers_to
from assistant.domain.terms import Energy
from assistant.domain.turn import PendingKind
from assistant.domain.utterance import Heard
from assistant.isolation import belief
from assistant.records.export import Form, exported_job
from assistant.records.job_record import record_of
from assistant.records.lease import own_mark
from assistant.records.ledger import FILE, open_ledger
from assistant.rules import phrases
from tests.test_recorded_work import chat_of, details, take

pytestmark = pytest.mark.engine
NEVER_STOPS = "guide me through the turntable keeps turning and never finds home"
SEEN_202 = Answered(check="code 202", outcome="shown", seen="202")


def session(assistant, *said, machine="drumlin"):
    talk = Session(assistant, machine)
    return talk, [talk.say(text) for text in said]


def hunt_of(talk):
    return talk.conversation.work.isolating


def likely(assistant, talk):
    """Cause -> belief now."""
    hunt = hunt_of(talk)
    return belief(assistant.guide.isolator_of(assistant.guide.hunt.fault(hunt)).model, hunt.log)


def texts(answer):
    return [answer.lead, *(line.text for line in answer.body)]


def test_a_code_that_starts_a_hunt_is_evidence_from_the_first_page(assistant):
    talk, (told, first) = session(assistant, "the panel says 202", "guide me")
    assert told.sources[0] == "drumlin/code/202"
    assert hunt_of(talk).fault == "drumlin/fault/turntable-never-stops" and hunt_of(talk).log == (SEEN_202,)
    assert "Code 202 counts." in texts(first)
    moved = next(text for text in texts(first) if text.startswith(phrases.NOW_LIKELIEST))
    assert "BG1 held on" in moved and "before it 10 %" in moved
    assert max(likely(assistant, talk), key=likely(assistant, talk).get) == "always-on"


def test_a_code_named_before_the_complaint_counts_in_its_hunt_and_in_no_later_one(assistant):
    talk, _ = session(assistant, "the panel says 202", "what does code 201 mean", NEVER_STOPS)
    assert hunt_of(talk).log == (SEEN_202,)
    talk.say("stop and keep")
    talk.say(NEVER_STOPS)
    assert hunt_of(talk).log == ()


@pytest.mark.parametrize("said", ["guide me through code 202", "code 202 on the panel, walk me through it"])
def test_a_code_and_the_wish_in_one_breath(assistant, said):
    talk, _ = session(assistant, said)
    assert hunt_of(talk).log == (SEEN_202,)


def test_a_code_in_the_middle_is_told_and_moves_what_is_likely(assistant):
    talk, (_, before) = session(assistant, NEVER_STOPS, "stopped")
    answer = talk.say("now it shows 202")
    assert answer.outcome is Outcome.ANSWERED and answer.sources[0] == "drumlin/code/202" and answer.codes == ("202",)
    assert "Code 202 counts." in texts(answer) and phrases.WITHHELD_TEXT not in texts(answer)
    assert hunt_of(talk).log == (SEEN_202,) and likely(assistant, talk)["always-on"] > 0.75
    again = talk.say("where was I")
    assert again.pending == talk.conversation.pending and again.outcome is not Outcome.ANSWERED
    if again.lead != before.lead:
        assert phrases.NOW_DUE in texts(answer) and again.lead in texts(answer)


def test_what_is_due_after_a_code_is_what_the_planner_wants(assistant):
    talk, _ = session(assistant, NEVER_STOPS, "stopped", "now it shows 202")
    page, _ = assistant.guide.hunt.page(hunt_of(talk), Energy.STOPPED)
    assert talk.conversation.pending == page.pending and talk.conversation.state.step == page.step


def test_a_code_that_tells_nothing_of_this_fault_is_said_to_and_nothing_moves(assistant):
    talk, (_, before) = session(assistant, NEVER_STOPS, "stopped")
    answer = talk.say("now it shows 504")
    assert f"Code 504 {phrases.CODE_BESIDE}" in texts(answer) and answer.sources[0] == "drumlin/code/504"
    assert hunt_of(talk).log == () and hunt_of(talk).beside == ("504",) and answer.pending == before.pending
    assert phrases.BACK_TO in texts(answer)


def test_a_question_about_a_code_is_told_and_does_not_count(assistant):
    talk, (*_, answer) = session(assistant, NEVER_STOPS, "stopped", "what does code 202 mean?")
    assert answer.sources[0] == "drumlin/code/202" and hunt_of(talk).log == () and hunt_of(talk).beside == ()


def test_the_code_is_gone_takes_it_back(assistant):
    talk, _ = session(assistant, NEVER_STOPS, "stopped")
    fresh = likely(assistant, talk)
    talk.say("now it shows 202")
    answer = talk.say("the code is gone")
    assert f"Code 202 {phrases.CODE_GONE}" in texts(answer)
    assert hunt_of(talk).log[-1] == Revised(check="code 202", to=None) and likely(assistant, talk) == pytest.approx(
        fresh
    )


def test_a_correction_of_a_code_that_told_nothing_leaves_the_others(assistant):
    talk, _ = session(assistant, NEVER_STOPS, "stopped", "now it shows 202", "code 504 came up", "no wait, it was 201")
    assert [event.seen for event in hunt_of(talk).log] == ["202", "201"] and hunt_of(talk).beside == ("504",)


def test_a_number_after_an_answer_corrects_the_answer_and_no_code(assistant):
    talk, _ = session(
        assistant, "guide me through the turntable turns slowly with heavy loads", "stopped", "it shows 204"
    )
    talk.say("the first one")
    answered = hunt_of(talk).log
    assert [getattr(event, "seen", None) for event in answered] == ["204", ""] and hunt_of(talk).named == ""
    talk.say("no wait, it was 205")
    assert hunt_of(talk).log == answered


def test_a_code_is_no_reading_where_a_figure_is_asked_for(assistant):
    talk, _ = session(assistant, NEVER_STOPS, "stopped", "now it shows 202")
    assert talk.conversation.pending.kind is PendingKind.READING
    answer = talk.say("code 201 came up")
    assert answer.sources[0] == "drumlin/code/201" and [e.seen for e in hunt_of(talk).log] == ["202", "201"]


def test_no_wait_it_was_another_one_replaces_it(assistant):
    talk, _ = session(assistant, NEVER_STOPS, "stopped", "now it shows 202")
    answer = talk.say("no wait, it was 201")
    assert {f"Code 202 {phrases.CODE_GONE}", "Code 201 counts."} <= set(texts(answer)) and answer.sources[
        0
    ] == "drumlin/code/201"
    other, _ = session(assistant, NEVER_STOPS, "stopped", "now it shows 201")
    assert likely(assistant, talk) == pytest.approx(likely(assistant, other))


def test_a_correction_to_a_code_that_does_not_exist_takes_back_and_says_so(assistant):
    talk, _ = session(assistant, NEVER_STOPS, "stopped", "now it shows 202")
    answer = talk.say("no wait, it was 240")
    assert answer.outcome is Outcome.NOT_COVERED and f"Code 202 {phrases.CODE_GONE}" in texts(answer)
    assert any(phrases.UNKNOWN_CODE in text for text in texts(answer))
    assert hunt_of(talk).log == (SEEN_202, Revised(check="code 202", to=None)) and hunt_of(talk).beside == ()


def test_back_takes_back_a_code_that_was_said_last(assistant):
    talk, (*_, answer) = session(assistant, NEVER_STOPS, "stopped", "now it shows 202", "back")
    assert f"Code 202 {phrases.CODE_GONE}" in texts(answer) and hunt_of(talk).log[-1] == Revised(
        check="code 202", to=None
    )


def test_a_panel_without_a_code_counts_too(assistant):
    talk, (*_, answer) = session(assistant, NEVER_STOPS, "stopped", "there is no code on the panel")
    assert hunt_of(talk).log == (Answered(check="no code", outcome="shown", seen=NO_CODE),)
    assert "No code on the panel counts." in texts(answer)


@pytest.mark.parametrize("said", ["why", "what is ruled out"])
def test_why_names_the_code_as_the_reason(assistant, said):
    talk, _ = session(assistant, NEVER_STOPS, "stopped", "now it shows 202")
    told = texts(talk.say(said))
    assert any(text.startswith("Code 202 speaks for BG1 held on") for text in told)
    out = told[told.index(phrases.RULED_OUT) + 1 :]
    assert any(text.endswith(": Code 202.") for text in out)


def test_a_code_that_a_check_reads_answers_that_check(assistant):
    talk, _ = session(assistant, "guide me through the display lights but the machine never becomes ready", "stopped")
    assert hunt_of(talk).fault == "drumlin/fault/panel-alive-not-ready"
    talk.say("code 106 came up")
    assert hunt_of(talk).log == (Answered(check="shown-code", outcome="106", seen="106"),)
    assert any(text.startswith("Code 106 speaks for") for text in texts(talk.say("why")))


def test_a_code_in_the_middle_of_an_isolation_leaves_its_items(assistant):
    talk, _ = session(assistant, NEVER_STOPS, "stopped", "i found it: flag lost", "yes")
    confirmed, pending = talk.conversation.confirmed, talk.conversation.pending
    assert len(confirmed) == 1
    answer = talk.say("code 202 came up")
    assert talk.conversation.confirmed == confirmed and talk.conversation.pending == pending == answer.pending
    assert hunt_of(talk).log == (SEEN_202,)


def test_an_unsafe_wish_with_a_code_is_refused_and_the_code_not_counted(assistant):
    talk, (*_, answer) = session(
        assistant, NEVER_STOPS, "stopped", "panel says 202 so i tape the gate switch shut just for today"
    )
    assert answer.outcome is Outcome.REFUSED and hunt_of(talk).log == ()


def test_what_the_panel_shows_after_a_repair_waits_for_the_proof(assistant):
    """It may speak of a machine that is cured in part: not of what was there before."""
    talk, _ = session(assistant, NEVER_STOPS, "stopped", "now it shows 202", "i found it: BG1 held on by swarf")
    for _ in assistant.knowledge.energy.items("drumlin"):
        talk.say("yes")
    talk.say("done")
    before = hunt_of(talk).log
    assert isinstance(before[-1], Repaired)
    for said in ("code 201 came up", "the code is gone", "no code"):
        answer = talk.say(said)
        assert phrases.CODE_AFTER_REPAIR in texts(answer) and hunt_of(talk).log == before, said
    assert hunt_of(talk).beside == ("201",)
    talk.say("running")
    talk.say("still there")
    talk.say("code 201 came up")
    assert hunt_of(talk).log[-1] == Answered(check="code 201", outcome="shown", seen="201")


def test_no_wait_the_panel_shows_no_code_takes_back_and_counts(assistant):
    talk, _ = session(assistant, NEVER_STOPS, "stopped", "now it shows 202", "no wait, the panel shows no code")
    assert [getattr(event, "seen", "") for event in hunt_of(talk).log] == ["202", "", NO_CODE]


def test_a_code_that_never_counted_cannot_be_taken_back(assistant):
    talk, (*_, answer) = session(assistant, NEVER_STOPS, "stopped", "code 504 came up", "code 504 is gone")
    assert phrases.NO_CODE_GONE in texts(answer) and hunt_of(talk).log == ()


def test_a_code_of_another_machine_is_no_evidence_here(assistant):
    talk, _ = session(assistant, NEVER_STOPS, "stopped", "the panel shows 410")
    assert hunt_of(talk).log == () and hunt_of(talk).beside == ()


def test_a_code_that_was_heard_is_read_back_before_it_counts(assistant):
    talk, _ = session(assistant, NEVER_STOPS, "stopped")
    ears = HearingSession.of(assistant, talk)

    def heard(text):
        return ears.take(text, Heard(text=text, confidence=0.9, engine="twin", start_ms=0, end_ms=1000))

    answer = heard("now it shows two oh two")
    assert answer.pending.choices == ("yes", "no") and hunt_of(talk).log == ()
    assert "Code 202 counts." in texts(heard("yes")) and hunt_of(talk).log == (SEEN_202,)
    heard("the code is gone")
    assert hunt_of(talk).log == (SEEN_202,)
    heard("yes")
    assert hunt_of(talk).log[-1] == Revised(check="code 202", to=None)


def test_every_authored_code_moves_its_fault_and_is_said_in_grounded_words(assistant):
    for fault in assistant.knowledge.faults:
        codes = [code for code in assistant.knowledge.codes if code.pack == fault.pack and answers_to(fault, code.id)]
        for code in codes:
            talk = Session(assistant, fault.pack)
            before = talk.conversation
            answer, talk.conversation = assistant.guide.begin(
                _said(f"code {code.id}"), before, fault.full_id, (code.id,)
            )
            assert f"Code {code.id} counts." in texts(answer), (fault.full_id, code.id)
            assert phrases.WITHHELD_TEXT not in texts(answer) and hunt_of(talk).log


def _said(text):
    from assistant.domain.utterance import Utterance

    return Utterance(text=text)


# --- the record


@pytest.fixture
def ledger(tmp_path):
    with open_ledger(tmp_path / FILE) as opened:
        yield opened


def test_codes_are_recorded_replayed_on_resume_and_exported(assistant, settings, ledger):
    chat, _ = chat_of(assistant, settings, ledger)
    take(
        chat,
        "the panel says 202",
        "guide me",
        "stopped",
        "no wait, it was 203",
        "now it shows 504",
        "no wait, it was 201",
    )
    seen = details(ledger, EvidenceSeen)
    assert [(e.code, e.check, e.outcome) for e in seen] == [
        ("202", "code 202", "shown"),
        ("203", "", ""),
        ("504", "", ""),
        ("201", "code 201", "shown"),
    ]
    assert seen[3].text == "no wait, it was 201"
    take(chat, "the code is gone", "code 202 came up")
    revised = [(r.check, r.to, r.said) for r in details(ledger, AnswerRevised)]
    assert revised == [
        ("code 202", Standing.OPEN, "no wait, it was 203"),
        ("code 201", Standing.OPEN, "the code is gone"),
    ]
    hunt = chat.session.conversation.work.isolating
    before = belief(assistant.guide.isolator_of(assistant.guide.hunt.fault(hunt)).model, hunt.log)
    take(chat, "stop and keep")
    (job,) = ledger.ids()
    ledger.set_current(job, own_mark("lead"), "2026-01-02T08:00:00+00:00")
    later, _ = chat_of(assistant, settings, ledger, machine=None)
    later.take_up()
    again = later.session.conversation.work.isolating
    assert again.log == hunt.log and again.beside == hunt.beside == ("203", "504")
    assert belief(assistant.guide.isolator_of(assistant.guide.hunt.fault(again)).model, again.log) == pytest.approx(
        before
    )
    take(later, "stopped", "now it shows 504")
    assert [e.code for e in details(ledger, EvidenceSeen)].count("504") == 1  # noted once
    record = record_of(ledger, job)
    for form in Form:
        assert "202" in exported_job(record, form)
    lines = [line for line in exported_job(record, Form.MARKDOWN).splitlines() if "Seen" in line]
    assert any("code 202" in line and "shown" in line for line in lines)
    assert json.loads(exported_job(record, Form.JSON))["seal"]


def test_a_code_that_counts_and_one_that_does_not_in_one_breath_are_both_recorded(assistant, settings, ledger):
    chat, _ = chat_of(assistant, settings, ledger)
    take(chat, NEVER_STOPS, "stopped", "code 202 and code 504 came up")
    assert [(e.code, e.check) for e in details(ledger, EvidenceSeen)] == [("202", "code 202"), ("504", "")]


def test_a_record_of_before_codes_counted_is_read_as_it_was():
    from assistant.records.encoding import decoded

    assert decoded("evidence-seen", '{"text":"display says 203","code":"203"}') == EvidenceSeen(
        text="display says 203", code="203"
    )
