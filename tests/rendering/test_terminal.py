import re

import pytest

from assistant.dialogue.session import Session
from assistant.rendering.terminal import Style, render

pytestmark = pytest.mark.engine


@pytest.fixture(scope="module")
def answer(assistant):
    return Session(assistant, "drumlin").say("display dark and no lamps with the isolator on")


@pytest.mark.parametrize("width", [80, 200, 60])
def test_lines_fit_the_width(answer, width):
    text = render(answer, Style(width=width))
    assert max(len(line) for line in text.splitlines()) <= min(width, 96)


def test_without_colour_there_is_no_escape_and_with_it_the_words_are_the_same(answer):
    plain = render(answer, Style(width=80))
    painted = render(answer, Style(width=80, colour=True))
    assert "\x1b" not in plain and "\x1b" in painted
    words = re.sub(r"\x1b\[[0-9;]*m", "", painted)
    assert (
        words.split()
        == plain.replace("DANGER:", "DANGER").replace("WARNING:", "WARNING").replace("CAUTION:", "CAUTION").split()
    )


def test_the_order_is_warnings_lead_body_sources_next(answer):
    text = render(answer, Style(width=80))
    places = [text.index(part) for part in (answer.warnings[0].text[:30], answer.lead, "Source:", "Ask next:")]
    assert places == sorted(places)
    assert answer.lead == "Display and lamps dark with the isolator on."
