import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.recognition.readings import Reading, in_unit, is_endless, readings_in

SAID = [
    ("twenty three point eight volts", 23.8, "V"),
    ("23.8 V", 23.8, "V"),
    ("0,3mm", 0.3, "mm"),
    ("nought point three mil", 0.3, "mm"),
    ("nought point nought five", 0.05, ""),
    ("it reads 4 megohms", 4, "MΩ"),
    ("minus five degrees celsius", -5, "°C"),
    ("two hundred and thirty volts", 230, "V"),
    ("two thirty volts", 230, "V"),
    ("two three oh volts", 230, "V"),
    ("one twenty", 120, ""),
    ("ten point twenty five", 10.25, ""),
    ("three and a half bar", 3.5, "bar"),
    ("half a millimetre", 0.5, "mm"),
    ("point two five amps", 0.25, "A"),
    ("one thousand two hundred newtons", 1200, "N"),
    ("about twenty four volts I think", 24, "V"),
    ("ninety nine percent", 99, "%"),
    ("five k ohms", 5, "kΩ"),
    ("thirty rpm", 30, "r/min"),
]


@pytest.mark.parametrize(("text", "value", "unit"), SAID, ids=[s[0] for s in SAID])
def test_a_reading_is_heard_as_people_say_it(text, value, unit):
    (reading,) = readings_in(text)
    assert (reading.value, reading.unit) == (pytest.approx(value), unit)


def test_a_range_is_two_readings():
    assert [(r.value, r.unit) for r in readings_in("between fifteen and a half and 20 mm")] == [(15.5, ""), (20, "mm")]


@pytest.mark.parametrize("text", ["all good", "the lamp is lit", "it is on", "volts"])
def test_words_without_a_figure_are_no_reading(text):
    assert readings_in(text) == ()


ONES = "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split()
TENS = "_ _ twenty thirty forty fifty sixty seventy eighty ninety".split()


def cardinal(n):
    if n < 20:
        return ONES[n]
    if n < 100:
        return TENS[n // 10] + (f" {ONES[n % 10]}" if n % 10 else "")
    if n < 1000:
        return f"{ONES[n // 100]} hundred" + (f" and {cardinal(n % 100)}" if n % 100 else "")
    return f"{cardinal(n // 1000)} thousand" + (
        f" {'and ' if n % 1000 < 100 else ''}{cardinal(n % 1000)}" if n % 1000 else ""
    )


@given(
    st.integers(0, 999_999),
    st.one_of(st.none(), st.text("0123456789", min_size=1, max_size=3)),
    st.sampled_from(["volts", "ohms", "millimetres"]),
)
def test_every_cardinal_with_decimals_is_read_back(whole, decimals, unit):
    text = cardinal(whole) + (f" point {' '.join(ONES[int(d)] for d in decimals)}" if decimals else "") + f" {unit}"
    (reading,) = readings_in(text)
    assert reading.value == pytest.approx(float(f"{whole}.{decimals or 0}"))


@given(st.floats(0.001, 99_999, allow_nan=False), st.sampled_from(["V", "mm", "Ω", "MΩ", "bar"]))
def test_figures_as_typed_are_read_back(value, unit):
    text = f"{value:.3f} {unit}"
    (reading,) = readings_in(text)
    assert (reading.value, reading.unit) == (pytest.approx(float(f"{value:.3f}")), unit)


# Factors of the International System of Units (SI Brochure, 9th edition, prefixes) and 1 in = 25.4 mm exactly; from memory.
@pytest.mark.parametrize(("value", "unit", "wanted", "same"), [
    (500, "kΩ", "MΩ", 0.5), (24000, "mV", "V", 24), (1, "inch", "mm", 25.4), (2, "cm", "mm", 20), (24, "V", "V DC", 24), (0.6, "MPa", "bar", 6),
])  # fmt: skip
def test_a_reading_is_taken_in_another_unit_of_its_kind(value, unit, wanted, same):
    assert in_unit(Reading(value=value, unit=unit, text=""), wanted) == pytest.approx(same)


def test_volts_are_no_millimetres_and_no_unit_is_none():
    assert in_unit(Reading(value=1, unit="V", text=""), "mm") is None
    assert in_unit(Reading(value=1, unit="", text=""), "mm") is None


def test_over_range_is_known_by_what_people_say():
    assert is_endless("it just says OL") and is_endless("over the top, over limit") and not is_endless("12 ohm")
