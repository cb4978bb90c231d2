import json

import html5lib
import pytest

from assistant.domain.fault_log import Answered
from assistant.domain.terms import EntryId
from assistant.errors import UnknownName
from assistant.records.visit_page import visit_as_page
from assistant.rendering.visit_text import visit_lines
from assistant.visit import VisitPlanner

pytestmark = pytest.mark.engine


@pytest.fixture(scope="module")
def planner(assistant):
    return VisitPlanner(assistant, assistant.guide.isolator_of)


def test_a_complaint_is_packed_for(planner):
    visit = planner.of_words("the turntable turns slowly with heavy loads", "drumlin")
    assert visit.faults[0][0].startswith("Turntable turns slowly") and visit.causes
    assert 0.0 < visit.chance <= visit.chance_with_all <= 1.0
    assert visit.chance >= min(visit.target, visit.chance_with_all) - 1e-9
    assert visit.low_minutes <= visit.minutes <= visit.high_minutes
    assert visit.who and visit.warnings[0].startswith("DANGER")


def test_a_code_is_packed_for_by_the_faults_that_it_speaks_for(planner):
    visit = planner.of_words("code 204", "drumlin")
    assert any("turntable" in title.lower() for title, _ in visit.faults)


def test_a_higher_target_brings_no_less(planner):
    low = planner.of_words("film snaps at the corners", "drumlin", 0.5)
    high = planner.of_words("film snaps at the corners", "drumlin", 0.95)
    assert len(low.bring) <= len(high.bring) and low.chance <= high.chance + 1e-9


def test_what_was_already_answered_in_a_job_counts(planner):
    fault = EntryId("drumlin/fault/turntable-slow")
    fresh = planner.of_job("slow", fault, ())
    known = planner.of_job("slow", fault, (Answered(check="time-turns", outcome="slows only loaded"),))
    assert fresh.causes != known.causes


def test_nothing_known_is_said(planner):
    with pytest.raises(UnknownName, match="capital of Mongolia"):
        planner.of_words("what is the capital of Mongolia", "drumlin")


def test_text_and_page_say_the_same_and_the_page_is_sound(planner):
    visit = planner.of_words(
        "the film snaps at the corners of the load, corner after corner <script>alert(1)</script>", "drumlin"
    )
    text, page = "\n".join(visit_lines(visit)), visit_as_page(visit)
    html5lib.HTMLParser(strict=True).parse(page)
    assert "<script>" not in page
    for item in visit.bring:
        assert item.name in text and item.name.split(" (")[0] in page


def test_the_visit_can_be_printed_as_json(planner):
    import dataclasses

    visit = planner.of_words("film snaps at the corners", "drumlin")
    assert json.loads(json.dumps(dataclasses.asdict(visit)))["bring"]
