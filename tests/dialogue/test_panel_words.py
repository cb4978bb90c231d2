"""What is said of the panel, and what of it is read back when it was heard."""

import pytest

from assistant.dialogue.critical import critical_in
from assistant.dialogue.panel_words import Sighting, codes_told, sighting_of
from assistant.domain.turn import Pending, PendingKind
from assistant.rules import phrases


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("now it shows 207", ("207",)),
        ("panel says two oh four", ("204",)),
        ("code 205 came up", ("205",)),
        ("now the panel reads error 605", ("605",)),
        ("panel: 203", ("203",)),
        ("code 203 and then code 605", ("203", "605")),
        ("I cleared code 204", ("204",)),
        ("code 204 came back", ("204",)),
        ("it never finds home, the panel says 202", ("202",)),
        ("the table does not start and it shows 203", ("203",)),
        ("it ran well yesterday, now it shows 203", ("203",)),
    ],
)
def test_a_code_that_stands_there_is_seen(text, codes):
    assert sighting_of(text) == Sighting(codes=codes)


@pytest.mark.parametrize(
    "text",
    [
        "what does 204 mean",
        "is code 204 gone?",
        "why does it show 204 now",
        "if it shows 204",
        "yesterday it said 204",
        "last week we had code 204",
        "not code 204",
        "no code 204",
        "it never shows 204",
        "the code is not gone yet",
        "the film is gone",
        "the display shows nothing",
        "204",
        "it draws 204 V",
        "wire 204",
        "it works",
        "it shows 204 V and code 203 is not there",
    ],
)
def test_what_is_asked_supposed_denied_or_past_is_not_seen(text):
    assert sighting_of(text) is None


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("the code is gone", ()),
        ("code 204 is gone", ("204",)),
        ("two oh four disappeared", ("204",)),
        ("it does not show 204 any more", ("204",)),
        ("it doesn't show the code now", ()),
        ("the code has cleared", ()),
    ],
)
def test_a_code_that_is_gone(text, codes):
    assert sighting_of(text) == Sighting(gone=True, codes=codes)


@pytest.mark.parametrize(
    "text",
    ["no code", "The panel shows no code.", "there is no code on the display", "it has no code now", "no codes shown"],
)
def test_a_panel_without_a_code(text):
    assert sighting_of(text) == Sighting(none=True)


def test_a_figure_that_a_meter_may_show_must_be_called_a_code():
    assert sighting_of("it shows 204", reading=True) is None
    assert sighting_of("code 204", reading=True) == Sighting(codes=("204",))


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("now it shows two oh seven", "code two zero seven"),
        ("the code is gone", "the code is gone"),
        ("the panel shows no code", "no code on the panel"),
    ],
)
def test_what_moves_the_belief_is_read_back(text, part):
    assert part in critical_in(text, (), None).parts


def test_what_was_asked_is_not_read_back():
    proof = Pending(kind=PendingKind.CHECK, text=phrases.DID_IT_PASS, choices=(phrases.PASSED, phrases.FAILED))
    assert critical_in("the code is gone", (), proof).parts == ()
    check = Pending(kind=PendingKind.CHECK, text="What do you find?", choices=("no code", "203 or 305"))
    assert critical_in("no code", (), check).parts == ()


@pytest.mark.parametrize(
    "text", ["code 204", "204", "code two oh four", "what does code 204 mean", "code 2-0-4", "error 605"]
)
def test_a_code_that_is_looked_up_is_not_said_to_stand_there(text):
    assert codes_told(text) == ()


def test_a_code_that_is_told_is():
    assert codes_told("the panel says 204") == codes_told("code 204 came up") == ("204",)
