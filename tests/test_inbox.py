import pytest

from assistant.chat import Chat
from assistant.inbox import MARKED_WRONG, NOT_COVERED, Inbox, InboxError, Letter


def letter(question="why blue", reason=NOT_COVERED):
    return Letter(
        question=question, machine="", outcome="not_covered", first=("a/b/c",), reason=reason, day="2026-01-02"
    )


def test_letters_come_back_in_order_and_the_same_one_is_kept_once(tmp_path):
    box = Inbox(tmp_path / "in" / "inbox.jsonl")
    assert box.letters() == ()
    for item in (letter("one"), letter("two"), letter("one"), letter("one", MARKED_WRONG)):
        box.keep(item)
    assert [(i.question, i.reason) for i in box.letters()] == [
        ("one", NOT_COVERED), ("two", NOT_COVERED), ("one", MARKED_WRONG),
    ]  # fmt: skip
    box.remove(letter("one"))
    assert [i.question for i in box.letters()] == ["two", "one"]


def test_a_broken_line_is_named(tmp_path):
    (tmp_path / "inbox.jsonl").write_text('{"question": 3}\n')
    with pytest.raises(InboxError, match=r"inbox\.jsonl:1"):
        Inbox(tmp_path / "inbox.jsonl").letters()


def test_an_inbox_that_cannot_be_written_says_so(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(InboxError, match="cannot be"):
        Inbox(tmp_path / "file" / "inbox.jsonl").keep(letter())


@pytest.mark.engine
def test_a_question_not_covered_and_one_marked_wrong_reach_the_inbox(assistant, settings, tmp_path):
    said = []
    box = Inbox(tmp_path / "inbox.jsonl")
    chat = Chat(assistant, settings, said.append, json_lines=False, inbox=box, day=lambda: "2026-01-02")
    chat.take("/wrong")
    assert said[-1] == "Nothing was answered yet."
    chat.take("what is the capital of Mongolia")
    chat.take("where is FC3")
    chat.take("/wrong it is on the other rail")
    found = box.letters()
    assert [i.reason for i in found] == [NOT_COVERED, MARKED_WRONG]
    assert found[1].question == "where is FC3" and found[1].remark == "it is on the other rail"
    assert all(i.day == "2026-01-02" for i in found)


@pytest.mark.engine
def test_turns_in_json_leave_no_letters(assistant, settings, tmp_path):
    box = Inbox(tmp_path / "inbox.jsonl")
    chat = Chat(assistant, settings, lambda text: None, json_lines=True, inbox=box)
    chat.take("what is the capital of Mongolia")
    assert box.letters() == ()
