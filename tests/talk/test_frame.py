from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.rendering.spoken import SpokenKind, SpokenLine
from assistant.talk.frame import MOST_ROWS, WIDEST, frame_rows, line_rows
from assistant.talk.state import Phase, Talk


def line(text, kind, pause=False):
    return SpokenLine(text=text, shown=text, kind=kind, pause_after=pause)


DANGER = "DANGER: Live parts inside the cabinet and at the motors will kill or seriously injure whoever touches them. Lock off the isolator and wait 10 min."
LINES = (
    line(DANGER, SpokenKind.WARNING), line("Code 204: Turntable overload.", SpokenKind.LEAD),
    line("MA1 drew too much.", SpokenKind.SENTENCE, pause=True), line("1. Look at the load.", SpokenKind.STEP, pause=True),
)  # fmt: skip


def shown(talk, width=80, heard="", note="", listening=False):
    return [row.text for row in frame_rows(talk, width, heard=heard, note=note, listening=listening)]


def test_a_warning_stands_in_a_box_with_its_signal_word_and_all_its_words():
    rows = [row.text for row in line_rows(LINES[0], 80)]
    assert rows[0].startswith("┌─ DANGER ") and rows[-1].startswith("└")
    assert " ".join(" ".join(row.strip("│ ") for row in rows[1:-1]).split()) == DANGER.removeprefix("DANGER: ")
    assert {len(row) for row in rows} == {WIDEST}


def test_the_lead_is_large_and_the_present_line_is_seen_with_its_unit():
    rows = shown(Talk(lines=LINES, at=2, reached=3, phase=Phase.SPEAKING))
    assert rows == ["▶ speaking", "CODE 204: TURNTABLE OVERLOAD.", "MA1 drew too much."]


def test_while_it_waits_it_says_what_can_be_said():
    talk = Talk(lines=LINES, at=2, reached=3, phase=Phase.WAITING)
    assert shown(talk)[0] == "‖ say NEXT (1 more)"
    assert shown(replace(talk, at=3))[0] == "‖ that is all"
    asked = Talk(lines=(line("Is it off?", SpokenKind.QUESTION, True),), at=0, reached=1, phase=Phase.WAITING)
    assert shown(asked)[:2] == ["‖ waiting for your answer", "? Is it off?"]
    assert shown(talk, listening=True)[0] == "● listening"


def test_a_long_word_does_not_widen_the_box_of_a_warning():
    rows = shown(Talk(lines=(line("1" * 40, SpokenKind.WARNING, False),), at=0, reached=1, phase=Phase.SPEAKING), 24)
    assert max(len(row) for row in rows) <= 24


TEXT = st.text(st.sampled_from("abc 12.,-"), min_size=1, max_size=400).filter(str.strip)


@given(
    st.lists(st.tuples(TEXT, st.sampled_from(SpokenKind), st.booleans()), max_size=8), st.integers(0, 7), st.integers(1, 300),
    st.text(max_size=200), st.text(max_size=200), st.booleans(),
)  # fmt: skip
def test_whatever_is_said_fits_the_rows_and_the_columns(parts, at, width, heard, note, listening):
    lines = tuple(line(text, kind, pause) for text, kind, pause in parts)
    talk = Talk(lines=lines, at=min(at, max(0, len(lines) - 1)), reached=len(lines), phase=Phase.SPEAKING)
    rows = shown(talk, width, " ".join(heard.split()), " ".join(note.split()), listening)
    assert len(rows) <= MOST_ROWS
    assert max(len(row) for row in rows) <= max(24, min(WIDEST, width))


@pytest.mark.engine
def test_every_warning_and_step_of_the_knowledge_fits_whole(assistant, knowledge):
    from assistant.dialogue.session import Session
    from assistant.rendering.spoken import spoken

    session = Session(assistant)
    for entry in knowledge.entries():
        for each in spoken(session.show(entry.full_id)):
            if each.kind in (SpokenKind.WARNING, SpokenKind.STEP, SpokenKind.QUESTION):
                assert len(line_rows(each, WIDEST)) <= MOST_ROWS - 3, each.shown


def test_what_went_wrong_is_read_whole_and_never_at_the_cost_of_a_warning():
    note = (
        "The microphone headset gives no more sound: was it unplugged? Type on; plug it in and start again to be heard."
    )
    rows = shown(Talk(), note=note)
    assert " ".join(rows[1:]) == note and len(rows) == 4
    long = (
        line(
            f"{DANGER} Prove every point dead with a proved tester first, before a hand or a tool goes in, and keep the others away from the open hatch.",
            SpokenKind.WARNING,
        ),
    )
    box = [row.text for row in line_rows(long[0], 80)]
    rows = shown(Talk(lines=long, at=0, reached=1, phase=Phase.SPEAKING), heard="what is it", note=note)
    assert len(box) + 2 + 3 > MOST_ROWS
    assert rows[2 : 2 + len(box)] == box and len(rows) <= MOST_ROWS
