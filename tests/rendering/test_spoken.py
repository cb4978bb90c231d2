import re
from dataclasses import replace

import pytest

from assistant.dialogue.session import Session
from assistant.domain.answer import Line, Role, SafetyWarning
from assistant.domain.terms import Hazard, SignalWord
from assistant.domain.turn import Pending, PendingKind
from assistant.rendering.spoken import MOST_LINES, MOST_WORDS, SpokenKind, severest_first, spoken

pytestmark = pytest.mark.engine


@pytest.fixture(scope="module")
def plain(assistant):
    """An answer of the rules to build on: what it says is replaced."""
    answer = Session(assistant).say("who won the football")
    return replace(answer, warnings=(), lead="", body=(), pending=None, codes=())


def lines(*pairs):
    return tuple(Line(text=text, role=role) for role, text in pairs)


def kinds(told):
    return [str(line.kind) for line in told]


def groups(told):
    found = [[]]
    for line in told:
        found[-1].append(line)
        if line.pause_after:
            found.append([])
    return [group for group in found if group]


def warning(word, text):
    return SafetyWarning(id=text, signal_word=word, hazard=Hazard.CRUSHING, text=text)


def test_warnings_come_first_most_severe_first_slower_and_whole(plain):
    warnings = (
        warning(SignalWord.CAUTION, "Hot."),
        warning(SignalWord.DANGER, "Live."),
        warning(SignalWord.WARNING, "Turns."),
    )
    told = spoken(replace(plain, warnings=warnings, lead="Fuse blown."))
    assert [line.text for line in told] == ["Danger! Live.", "Warning! Turns.", "Caution! Hot.", "Fuse blown."]
    assert [line.pace < 1 for line in told] == [True, True, True, False]
    assert not any(line.pause_after for line in told[:-1])


def test_equally_severe_warnings_keep_the_order_of_the_answer():
    first, second = warning(SignalWord.WARNING, "a"), warning(SignalWord.WARNING, "b")
    assert severest_first((first, second)) == (first, second) and severest_first((second, first)) == (second, first)


def test_each_step_is_told_alone_with_its_notes_and_waits(plain):
    body = lines(
        (Role.HEADING, "Steps:"), (Role.STEP, "Turn it off."), (Role.NOTE, "It is dark."), (Role.STEP, "Open it.")
    )
    told = spoken(replace(plain, lead="Replace the fuse.", body=body))
    assert [[line.text for line in group] for group in groups(told)] == [
        ["Replace the fuse.", "Steps:", "Step one. Turn it off.", "It is dark."],
        ["Step two. Open it."],
    ]


def test_each_check_is_told_alone_with_what_to_do_and_what_it_shows(plain):
    check = ((Role.ITEM, "Eye by hand (2 min, stopped)."), (Role.NOTE, "Wipe it."), (Role.NOTE, "It lights."))
    told = spoken(replace(plain, lead="Eye dark.", body=lines((Role.HEADING, "Check:"), *check, *check)))
    assert len(groups(told)) == 2 and all(len(group) >= 3 for group in groups(told))
    assert told[2].text == "Eye by hand, two minutes, stopped."


def test_a_long_list_is_told_a_few_at_a_time_and_a_heading_never_ends_a_group(plain):
    body = lines((Role.HEADING, "Tools:"), *((Role.ITEM, f"tool {chr(97 + n)}") for n in range(8)))
    found = groups(spoken(replace(plain, lead="Replace it.", body=body)))
    assert [sum(line.kind is not SpokenKind.HEADING for line in group) for group in found] == [
        MOST_LINES,
        MOST_LINES,
        9 - 2 * MOST_LINES,
    ]
    assert all(group[-1].kind is not SpokenKind.HEADING for group in found)


def test_choices_are_said_at_the_end_and_yes_or_no_is_not_listed(plain):
    check = Pending(kind=PendingKind.CHECK, text="How is the eye?", choices=("clear", "blocked", "don't know"))
    told = spoken(replace(plain, lead="Look at BG3.", pending=check))
    assert told[0].text == "Look at B G 3."
    assert told[-1].text == "How is the eye? Clear, blocked, or don't know?" and told[-1].pause_after
    confirm = Pending(kind=PendingKind.CONFIRM, text="Is it off?", choices=("yes", "no"))
    assert spoken(replace(plain, lead="x", pending=confirm))[-1].text == "Is it off?"


def test_what_is_asked_is_not_said_twice(plain):
    confirm = Pending(kind=PendingKind.CONFIRM, text="Is it off?", choices=("yes", "no"))
    told = spoken(replace(plain, lead="First.", body=lines((Role.SENTENCE, "Is it off?")), pending=confirm))
    assert [line.text for line in told].count("Is it off?") == 1


def test_a_list_of_the_choices_is_left_to_the_question_and_another_list_is_not(plain):
    state = Pending(kind=PendingKind.CONFIRM, text="What state?", choices=("running", "stopped"))
    told = spoken(
        replace(plain, lead="Say it again.", body=lines((Role.ITEM, "running"), (Role.ITEM, "stopped")), pending=state)
    )
    assert [line.text for line in told] == ["Say it again.", "What state? Running, or stopped?"]
    meant = spoken(replace(plain, lead="You mean this.", body=lines((Role.ITEM, "running")), pending=state))
    assert "running" in [line.text for line in meant]


def test_codes_figures_and_designations_are_said_in_words_and_printed_as_authored(plain):
    told = spoken(replace(plain, codes=("204",), lead="204: MA1 drew 3.9 A.", body=lines((Role.STEP, "Set 0.3 mm."))))
    assert told[0].text == "two zero four: M A 1 drew three point nine amps."
    assert told[1].text == "Step one. Set zero point three millimetres." and told[1].shown == "1. Set 0.3 mm."
    assert told[0].shown == "204: MA1 drew 3.9 A."


def test_of_every_entry_all_is_said_in_order_and_nothing_raw(assistant, knowledge):
    session = Session(assistant)
    for entry in knowledge.entries():
        if entry.full_id.split("/")[1] in {"refusal"}:
            continue
        answer = session.show(entry.full_id)
        told = spoken(answer, frozenset(code.id for code in knowledge.codes))
        shown = [line.shown.split(". ", 1)[-1] if line.kind is SpokenKind.STEP else line.shown for line in told]
        wanted = [line.text for line in answer.body if answer.pending is None or line.text != answer.pending.text]
        assert [text for text in shown if text in wanted] == wanted
        assert all(text.strip() for text in wanted), f"{entry.full_id} has an empty line"
        assert "warning" not in kinds(told)[len(answer.warnings) :]
        assert not [line.text for line in told if re.search(r"\bmm\b|[(\[]", line.text)]
        assert told[-1].pause_after
        for group in groups(told):
            text = [line for line in group if line.kind not in (SpokenKind.WARNING, SpokenKind.QUESTION)]
            work = any(line.kind in (SpokenKind.STEP, SpokenKind.NOTE) for line in text)
            assert work or sum(len(line.text.split()) for line in text[:-1]) <= MOST_WORDS, [line.text for line in text]


def test_chances_and_reasons_are_said_only_where_they_were_asked_for(assistant):
    talk = Session(assistant, "drumlin")
    talk.say("guide me through only the turntable is dead")
    check = talk.say("stopped")
    said = [line.text for line in spoken(check)]
    assert "Why this:" not in said and "Likely now:" not in said and len(said) < 8
    assert {"Why this:", "Likely now:"} <= {line.text for line in check.body}
    assert "Why this:" in [line.text for line in spoken(talk.say("why"))]
    told = [line.text for line in spoken(talk.say("what else"))]
    assert "Likely now:" in told and not any("█" in text or "░" in text for text in told)
