import pytest

from assistant.dialogue.commands import Command, command_of, correction_of, guide_to

SAID = [
    ("next", Command.NEXT), ("ok go on", Command.NEXT), ("What now?", Command.NEXT), ("hand lamp, next please", Command.NEXT),
    ("back", Command.BACK), ("go back", Command.BACK), ("undo that", Command.BACK),
    ("repeat", Command.REPEAT), ("say that again", Command.REPEAT), ("sorry?", Command.REPEAT), ("didn't catch that", Command.REPEAT),
    ("where was I", Command.WHERE), ("which step am I on?", Command.WHERE),
    ("skip", Command.SKIP), ("can't check", Command.SKIP), ("no meter with me", Command.SKIP), ("I can't reach it", Command.SKIP),
    ("how far", Command.HOW_FAR), ("how many steps left", Command.HOW_FAR), ("how long to go", Command.HOW_FAR),
    ("why", Command.WHY), ("why that one?", Command.WHY), ("what's that for", Command.WHY),
    ("what else", Command.ELSE), ("what else could it be?", Command.ELSE), ("what do you think", Command.ELSE),
    ("stop and keep", Command.STOP), ("stop here", Command.STOP), ("I have to go", Command.STOP), ("carry on tomorrow", Command.STOP),
    ("guide me", Command.GUIDE), ("walk me through it", Command.GUIDE), ("step by step please", Command.GUIDE), ("find the fault", Command.GUIDE),
    ("check it again", Command.AGAIN), ("steps", Command.STEPS), ("how do I do that", Command.STEPS),
]  # fmt: skip


@pytest.mark.parametrize(("text", "command"), SAID, ids=[s[0] for s in SAID])
def test_a_command_is_heard_in_the_words_people_use(text, command):
    said = command_of(text)
    assert said is not None and said.command is command


@pytest.mark.parametrize("text", [
    "why does the film keep snapping", "how do I set the chain", "the carriage goes back down", "next to the rail it is loose",
    "where is FC3", "what else feeds TA1", "it repeats every turn", "how far does the sensor see", "skip the guard test for today?",
])  # fmt: skip
def test_a_question_is_no_command(text):
    assert command_of(text) is None


@pytest.mark.parametrize(("text", "rest"), [
    ("I found it: the fuse was blown", "the fuse was blown"), ("found it, it's the chain", "the chain"), ("got it - broken wire", "broken wire"),
])  # fmt: skip
def test_what_was_found_is_kept_with_the_command(text, rest):
    said = command_of(text)
    assert said is not None and (said.command, said.rest) == (Command.FOUND, rest)


@pytest.mark.parametrize(("text", "rest"), [
    ("no wait, it was on", "on"), ("sorry, it is blocked", "blocked"), ("wait no, clear", "clear"), ("I meant the left one", "the left one"),
    ("actually it's 23 volts", "23 volts"), ("correction: open", "open"),
])  # fmt: skip
def test_a_correction_is_what_comes_after_it(text, rest):
    assert correction_of(text) == rest


def test_a_plain_answer_corrects_nothing():
    assert correction_of("it was on") == "" and correction_of("no") == ""


@pytest.mark.parametrize(("text", "wish"), [
    ("walk me through setting the chain", "setting the chain"), ("guide me through the film keeps snapping", "the film keeps snapping"),
    ("table turns slowly, guide me through it", "table turns slowly"),
])  # fmt: skip
def test_what_to_be_led_through_may_be_named_at_once(text, wish):
    assert guide_to(text) == wish
