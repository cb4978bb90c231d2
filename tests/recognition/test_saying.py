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
    ("2½ turns, 1 3/4 mm", "two and one half turns, one and three quarters millimetres"),
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


HEARD_AS = {"V DC": "V", "V AC": "V", "VDC": "V", "VAC": "V", "Nm": "N·m", "rpm": "r/min", "dB": "dB(A)"}
"""Several ways to write a unit of which one is heard."""
ONLY_SAID = {"nm", "K", "°"}
"""Heard they would be taken for others: N·m without its dot, kΩ as people write it, a temperature without its scale."""
FIGURE = st.one_of(
    st.integers(-999, 99_999).map(str),
    st.decimals(min_value=-999, max_value=99_999, places=2, allow_nan=False).map(str),
    st.sampled_from(["1", "-1", "1.0", "0", "0.05", "10", "100", "1,000", "12,500", "1000000"]),
)


@given(FIGURE, st.sampled_from(sorted(set(spoken_units()) - ONLY_SAID)))
def test_a_figure_with_its_unit_said_is_heard_as_the_same_reading(figure, unit):
    (reading,) = readings_in(say_figure(figure, unit))
    assert reading.unit == HEARD_AS.get(unit, unit)
    assert reading.value == pytest.approx(float(figure.replace(",", "")))
    assert in_unit(reading, unit) == pytest.approx(reading.value)


@pytest.mark.parametrize("unit", sorted(set(spoken_units()) - ONLY_SAID))
def test_one_and_several_of_every_unit_that_is_said_are_heard(unit):
    (one,), (several,) = (readings_in(say_figure(figure, unit)) for figure in ("1", "7"))
    assert (one.value, several.value) == (1, 7) and one.unit == several.unit == HEARD_AS.get(unit, unit)


@pytest.mark.parametrize("unit", sorted(ONLY_SAID))
def test_a_unit_that_is_only_said_is_heard_as_a_bare_figure(unit):
    assert [(r.value, r.unit) for r in readings_in(say_figure("7", unit))] == [(7, "")]


PARTS = {"1/2": 1 / 2, "½": 1 / 2, "1/4": 1 / 4, "¼": 1 / 4, "3/4": 3 / 4, "¾": 3 / 4, "1/3": 1 / 3, "2/3": 2 / 3}


@pytest.mark.parametrize("written", PARTS)
@given(st.integers(0, 999), st.sampled_from(["mm", "inch", "bar", "min"]))
def test_a_fraction_said_is_heard_with_its_value(written, whole, unit):
    bare = f"{written} {unit}"
    mixed = f"{whole}{written} {unit}" if len(written) == 1 else f"{whole} {written} {unit}"
    for text, value in ((bare, PARTS[written]), (mixed, whole + PARTS[written])):
        (reading,) = readings_in(say_text(text))
        assert (reading.value, reading.unit) == (pytest.approx(value), unit), say_text(text)


@given(
    st.integers(0, 9_999),
    st.integers(1, 9_999),
    st.sampled_from(["–", "-", " – ", " to "]),
    st.sampled_from(["mm", "V", "s", "°C"]),
)
def test_a_range_said_gives_both_of_its_ends_and_the_unit_with_the_last(low, more, dash, unit):
    said = say_text(f"It is {low}{dash}{low + more} {unit}.")
    readings = readings_in(said)
    assert [(r.value, r.unit) for r in readings] == [(low, ""), (low + more, unit)]


@given(st.integers(1, 99))
def test_an_ordinal_said_is_no_reading_and_no_code(number):
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    said = say_text(f"loosen the {number}{ending} screw")
    assert said == f"loosen the {ordinal(number)} screw"
    assert codes_in(said) == ()
    seconds = said.endswith("second screw") and number > 2  # "a twenty second wait" is a time
    assert readings_in(said) == () or seconds


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
