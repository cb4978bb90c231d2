import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.recognition.numbers import DIGITS
from assistant.recognition.readings import in_unit, readings_in, units_said
from assistant.recognition.saying import ordinal, say_code, say_designation, say_figure, say_text, spoken_units
from assistant.recognition.spoken_forms import codes_in, designations_in
from assistant.retrieval.passages import sentences_of_entry

SAID = [
    ("Code 204: Turntable overload.", "Code two zero four: Turntable overload."),
    ("codes 102 and 103", "codes one zero two and one zero three"),
    ("where FC3 sits", "where F C 3 sits"),
    ("between XD2:2 and XD1:PE", "between X D 2 terminal 2 and X D 1 terminal P E"),
    ("a gap of 0.3 mm", "a gap of zero point three millimetres"),
    ("24 V DC ± 1 V DC", "twenty four volts D C plus or minus one volt D C"),
    ("10 mm to 15 mm", "ten millimetres to fifteen millimetres"),
    ("3–5 min", "three to five minutes"),
    ("-5 °C", "minus five degrees celsius"),
    ("1/2 turn", "one half turn"),
    ("the 3rd fuse, the 21st wire, the 20th turn", "the third fuse, the twenty first wire, the twentieth turn"),
    ("about 3 % of 1,500 kg", "about three percent of one thousand five hundred kilograms"),
    ("1 A, then 2 A", "one amp, then two amps"),
    ("T 2 A L, 5 × 20 mm", "T two amps L, five by twenty millimetres"),
    ("IEC 60204-1:2016", "IEC six zero two zero four dash one, two zero one six"),
    ("the figure is in mm", "the figure is in millimetres"),
]  # fmt: skip


@pytest.mark.parametrize(("written", "aloud"), SAID, ids=[s[0] for s in SAID])
def test_a_written_text_is_said_as_people_say_it(written, aloud):
    assert say_text(written) == aloud


def test_a_bare_number_is_a_code_only_where_it_is_one():
    assert say_text("204 is on", frozenset({"204"})) == "two zero four is on"
    assert say_text("after 204 pallets") == "after two hundred and four pallets"


@given(st.integers(0, 999).map(lambda n: f"{n:03d}"))
def test_a_code_said_is_heard_as_the_same_code(code):
    assert [m.digits for m in codes_in(f"code {say_code(code)}")] == [code]
    assert [m.digits for m in codes_in(say_text(f"It shows code {code}."))] == [code]


@given(st.text("ABCDEFGHIKLMNOPQRSTUX", min_size=1, max_size=2), st.integers(1, 99))
def test_a_designation_said_is_heard_as_the_same_designation(letters, number):
    name = f"{letters}{number}"
    assert name in designations_in(say_designation(name), {name})
    assert name in designations_in(f"look at {say_text(name)} first", {name})


SAME = sorted({unit.name for unit in units_said().values()} & set(spoken_units()))


@given(st.decimals(min_value=0, max_value=99_999, places=2, allow_nan=False), st.sampled_from(SAME))
def test_a_figure_with_its_unit_said_is_heard_as_the_same_reading(figure, unit):
    (reading,) = readings_in(say_figure(str(figure), unit))
    assert reading.unit == unit and reading.value == pytest.approx(float(figure))


@given(st.integers(0, 99_999), st.sampled_from(["V DC", "V AC", "mm", "MΩ"]), st.integers(1, 99))
def test_a_tolerance_said_gives_both_of_its_readings(figure, unit, tolerance):
    said = say_text(f"{figure} {unit} ± {tolerance} {unit}")
    readings = [r for r in readings_in(said) if r.unit]
    assert [r.value for r in readings] == [figure, -tolerance]  # "plus or minus": the word before the figure is minus
    assert [in_unit(r, unit) for r in readings] == [figure, -tolerance]


def test_every_unit_that_is_heard_can_be_said():
    assert {unit.name for unit in units_said().values()} - set(spoken_units()) == {"times"}


def test_ordinals_to_a_hundred_are_words():
    assert [ordinal(n) for n in (1, 2, 3, 8, 9, 12, 30, 42, 100)] == [
        "first", "second", "third", "eighth", "ninth", "twelfth", "thirtieth", "forty second", "one hundredth",
    ]  # fmt: skip


_WRITTEN = re.compile(r"\bmm\b|[±×²Ω°%µ]|\d\.\d|\b(?:kg|mA|MPa|Hz|N·m)\b")


def test_no_sentence_of_the_knowledge_keeps_a_sign_or_a_short_unit_when_said(knowledge):
    sentences = [s.text for e in knowledge.entries() for s in sentences_of_entry(e)]
    kept = {(m.group(), text) for text in sentences for m in _WRITTEN.finditer(say_text(text))}
    assert any(_WRITTEN.search(text) for text in sentences)
    assert kept == set()


@given(st.text(max_size=80))
def test_any_text_can_be_said(text):
    assert isinstance(say_text(text), str)


def test_the_digits_that_are_said_are_digits_that_are_heard():
    assert [DIGITS[word] for word in say_code("0123456789").split()] == list("0123456789")
