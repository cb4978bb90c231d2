import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.recognition.numbers import DIGITS
from assistant.recognition.spoken_forms import codes_in, designations_in, written

KNOWN = {"FC3", "BG1", "MB2", "XD1", "XD2", "I3", "BG10"}


@pytest.mark.parametrize(
    "text",
    [
        "204",
        "code 2-0-4",
        "2 0 4",
        "two oh four",
        "two zero four",
        "two hundred and four",
        "2oh4",
        "E204",
        "code: 204!",
        "two nought four",
    ],
)
def test_a_code_is_heard_in_every_form(text):
    assert [m.digits for m in codes_in(text)] == ["204"]


@pytest.mark.parametrize(
    "text", ["230 V at the rail", "XD2:114", "wire 204", "400 volts", "FC3", "5 x 20 mm", "1500 kg", "IEC 204"]
)
def test_measurements_and_names_are_no_codes(text):
    assert codes_in(text) == ()


def test_a_hundred_is_one_hundred_when_something_follows():
    assert [m.digits for m in codes_in("panel says a hundred and four")] == ["104"]
    assert codes_in("i have told them a hundred times") == ()


def test_a_double_is_two_digits():
    assert [m.digits for m in codes_in("double one two")] == ["112"]


@pytest.mark.parametrize(
    "text", ["fc3", "FC 3", "fc-3", "f c three", "fuse three", "fuse no 3", "foxtrot charlie three", "eff cee three"]
)
def test_a_designation_is_heard_in_every_form(text):
    assert designations_in(text, KNOWN) == ("FC3",)


def test_designations_keep_their_order_and_only_known_ones_count():
    assert designations_in("from BG1 over xd2 to FC9 and input 3", KNOWN) == ("BG1", "XD2", "I3")


WORDS = {digit: word for word, digit in DIGITS.items()}


@given(st.integers(min_value=100, max_value=999), st.sampled_from([" ", "-", ""]))
def test_digits_typed_apart_or_together_give_the_code(number, between):
    assert [m.digits for m in codes_in("code " + between.join(str(number)))] == [str(number)]


@given(st.integers(min_value=100, max_value=999))
def test_digits_spoken_one_by_one_give_the_code(number):
    assert [m.digits for m in codes_in("code " + " ".join(WORDS[d] for d in str(number)))] == [str(number)]


@given(st.text(max_size=60))
def test_any_text_is_taken_without_an_exception(text):
    codes_in(text)
    designations_in(text, KNOWN)


@pytest.mark.parametrize(("text", "expected"), [
    ("where is f c five please", "where is FC5 please"),
    ("bee gee one dark", "BG1 dark"),
    ("foxtrot charlie three, blown", "FC3, blown"),
    ("jump b g four across", "jump BG4 across"),
    ("where is FC3", "where is FC3"),
    ("what are we seeing", "what are we seeing"),
])  # fmt: skip
def test_a_spoken_designation_is_searched_as_it_is_written(text, expected):
    assert written(text, {"FC5", "BG1", "FC3", "BG4"}) == expected


@pytest.mark.parametrize("text", ["error at 3.15", "reads 4.02 there", "code 3,15 volts"])
def test_a_decimal_fraction_is_no_code(text):
    assert codes_in(text) == ()


@pytest.mark.parametrize(("text", "digits"), [
    ("code one fifteen", "115"), ("two fourteen came up", "214"), ("it says one fifty two", "152"), ("2.0.4", "204"),
])  # fmt: skip
def test_a_code_is_known_by_its_hundred_and_the_rest(text, digits):
    assert [mention.digits for mention in codes_in(text)] == [digits]


def test_a_code_said_twice_is_one_code():
    assert [m.digits for m in codes_in("five oh six five oh six")] == ["506"]
    assert [m.digits for m in codes_in("506 506 506")] == ["506"]


@pytest.mark.parametrize(("text", "certain"), [
    ("it says nine nine nine on the screen", True), ("seven eleven on the panel", True), ("it got to 999 and stopped", False),
])  # fmt: skip
def test_figures_spelled_off_the_panel_are_certainly_a_code(text, certain):
    assert [m.certain for m in codes_in(text)] == [certain]
