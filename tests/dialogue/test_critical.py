import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.dialogue.critical import critical_in
from assistant.recognition.readings import readings_in


def read_back(text):
    return critical_in(text, (), None).parts


@given(st.floats(min_value=1e-9, max_value=9.99e8).map(lambda value: float(f"{value:.12g}")))
def test_what_is_read_back_of_any_figure_is_the_very_figure(value):
    (said,) = read_back(f"it reads {value!r} V")
    (again,) = readings_in(said)
    assert (again.value, again.unit) == (pytest.approx(value, rel=1e-12), "V")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("it reads 16000000 ohms", "sixteen million ohms"),
        ("it reads 1234567.891 N", "one million two hundred and thirty four thousand five hundred and sixty seven point eight nine one newtons"),
        ("it reads 2.3e-7 A", "zero point zero zero zero zero zero zero two three amps"),
    ],
)  # fmt: skip
def test_great_and_small_figures_are_read_back_whole(text, said):
    assert read_back(text) == (said,)


@pytest.mark.parametrize("text", [f"it reads {'9' * 400} volts", "it reads 1e999 volts"])
def test_a_figure_beyond_all_numbers_is_no_reading(text):
    assert read_back(text) == ()
