import csv
import io
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.domain.job_events import (
    Amended,
    CheckAnswered,
    Closed,
    EvidenceSeen,
    Left,
    NoteTaken,
    Opened,
    QuestionAsked,
    ReadingTaken,
)
from assistant.domain.job_terms import EventKind, Share
from assistant.records.chain import BEGINNING
from assistant.records.encoding import CLASSES, decoded, encoded
from assistant.records.export import Form, exported_job, exported_jobs
from assistant.records.job_record import JobRecord, record_of
from assistant.records.ledger import open_ledger
from assistant.records.replay import replayed
from assistant.records.spreadsheet import HEAD, harmless
from assistant.records.wording import TITLES, log_line, visible
from tests.records.story import OPENING, STORY, begin, events_of, whole_story

GOLDEN = Path(__file__).parent / "golden"
EVIL = (
    "=cmd|' /C calc'!A0", "+1+cmd", "-2+3", "@SUM(A1)", "\t=1+1", "\r=1+1", 'x";=1+1', "a,=1+1", "＝1+1", "' =1+1", "a;\u202e=1+1",
    "<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "</td></table><h1>x", "{{ 7*7 }}", "{% raw %}", "javascript:alert(1)",
    "| a | b |", "[x](http://evil.example)", "![x](http://evil.example/p.png)", "`code`", "a\n# head", "\x1b[2J", "a\u202eb\u2066c", "&lt;b&gt;",
    "\x00", "ünïcödé 電", "www.evil.example",
)  # fmt: skip


def record(*details):
    events = tuple(events_of(details))
    return JobRecord(state=replayed(events), events=events, seal=BEGINNING)


def evil_record(text):
    return record(
        Opened(machine=text, complaint=text, fault=text),
        EvidenceSeen(text=text, code=text),
        CheckAnswered(check=text, outcome=text, said=text, asked=text),
        ReadingTaken(check=text, value=-5.5, unit=text, said=text),
        QuestionAsked(question=text, entry=text),
        NoteTaken(text=text),
        Left(machine_state=text, must_not=(text,)),
        Closed(found=(Share(name=text, share=1.0),), text=text, handed_over_to=text),
        Amended(reason=text),
    )


@pytest.mark.parametrize("form", list(Form))
def test_the_export_of_a_whole_job_is_the_golden_one(form, ledger):
    text = exported_job(record_of(ledger, whole_story(ledger)), form)
    assert text.encode() == (GOLDEN / f"job.{form}").read_bytes()


@pytest.mark.parametrize("form", list(Form))
def test_the_list_of_jobs_is_the_golden_one(form, ledger):
    whole_story(ledger)
    begin(ledger, opening=Opened(machine="skerry", complaint="tape not cut"))
    assert exported_jobs(ledger.states(), form).encode() == (GOLDEN / f"jobs.{form}").read_bytes()


def test_the_same_record_opened_again_gives_the_same_bytes(path):
    texts = []
    for _ in range(2):
        with open_ledger(path, alive=lambda pid: True) as ledger:
            job = ledger.ids()[0] if ledger.ids() else whole_story(ledger)
            texts.append([exported_job(record_of(ledger, job), form) for form in Form])
    assert texts[0] == texts[1]


def test_every_kind_of_event_has_a_title_a_class_and_comes_back_from_its_line():
    assert set(TITLES) == set(CLASSES) == set(EventKind)
    for detail in (OPENING, *STORY):
        assert decoded(detail.kind.value, encoded(detail)) == detail


def test_half_a_character_from_a_broken_terminal_is_stored_as_a_question_mark():
    assert decoded("note-taken", encoded(NoteTaken(text="a\udcffb"))) == NoteTaken(text="a?b")


def test_the_json_holds_every_word_exactly_and_its_fields_are_these():
    for text in EVIL:
        told = json.loads(exported_job(evil_record(text), Form.JSON))
        assert told["schema"] == "handlamp-job/1"
        assert list(told) == ["schema", "job", "state", "seal", "events"]
        assert told["job"]["complaint"] == text and told["events"][5]["detail"] == {"text": text}
        assert list(told["events"][0]) == ["seq", "at", "who", "kind", "detail"]


class Page(HTMLParser):
    """Tags in order, whether they nest, every attribute, and the text outside of the style."""

    VOID = {"meta", "link", "br", "img", "input", "hr"}

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.open, self.tags, self.attributes, self.texts = [], [], [], []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if "style" not in self.open:
            self.texts.append(data)


TAGS = set("html head meta title style body h1 h2 dl dt dd section ul li table thead tbody tr th td time div q".split())


def test_the_page_is_well_formed_and_needs_nothing_from_outside(ledger):
    text = exported_job(record_of(ledger, whole_story(ledger)), Form.HTML)
    page = Page(text)
    assert set(page.tags) <= TAGS and page.tags.count("tr") == 1 + 1 + len(STORY)
    assert not any(
        name in {"src", "href", "action", "srcset", "style"} or name.startswith("on") for _, name, _ in page.attributes
    )
    assert ("meta", "content", "default-src 'none'; style-src 'unsafe-inline'") in page.attributes
    assert not re.search(r"url\(|@import|https?:", text)


def test_the_page_is_made_for_light_dark_paper_and_a_narrow_screen():
    text = exported_job(record(OPENING), Form.HTML)
    assert "@media (prefers-color-scheme: dark)" in text and "@media print" in text
    assert ("meta", "name", "viewport") in Page(text).attributes and ("html", "lang", "en") in Page(text).attributes


def luminance(colour):
    """Relative luminance of sRGB (WCAG 2.1, definition of relative luminance)."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_every_colour_of_writing_stands_out_from_its_paper_in_light_and_dark():
    text = exported_job(record(OPENING), Form.HTML)
    palettes = [
        dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", line))
        for line in text.splitlines()
        if "--paper" in line and ":root" in line
    ]
    assert len(palettes) == 3
    for palette in palettes:
        for name in ("ink", "soft", "good", "warn", "bad"):
            for ground in ("paper", "band"):
                high, low = sorted((luminance(palette[name]), luminance(palette[ground])), reverse=True)
                assert (high + 0.05) / (low + 0.05) >= 4.5, (name, ground)  # WCAG 2.1, 1.4.3


@pytest.mark.parametrize("text", EVIL)
def test_what_was_typed_is_text_on_the_page_and_nothing_else(text):
    plain, evil = (
        Page(exported_job(evil_record("harmless"), Form.HTML)),
        Page(exported_job(evil_record(text), Form.HTML)),
    )
    assert evil.tags == plain.tags
    assert [a for a in evil.attributes if a[1] != "class"] == [a for a in plain.attributes if a[1] != "class"]
    assert any(visible(text) in shown for shown in evil.texts)


@pytest.mark.parametrize("text", EVIL)
def test_what_was_typed_is_text_in_markdown(text):
    plain, evil = (exported_job(evil_record(t), Form.MARKDOWN) for t in ("harmless", text))
    assert evil.count("\n") == plain.count("\n") and not re.search(r"<[a-z/!]|\x1b|\u202e|://|www\.", evil)
    bare = re.compile(r"(?<!\\)\|")
    assert [len(bare.findall(line)) for line in evil.splitlines()] == [
        len(bare.findall(line)) for line in plain.splitlines()
    ]
    assert not re.search(r"(?<!\\)[`\[\]*]", evil)


def computes(cell):
    """Whether a spreadsheet may take the cell for a formula; a plain figure is none."""
    inner = cell.strip().strip('"').strip()
    return bool(inner) and inner[0] in "=+-@＝＋－＠\t\r" and not re.fullmatch(r"-?\d+(\.\d+)?", inner)


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_no_cell_computes_in_whatever_way_the_lines_are_split(delimiter):
    for text in EVIL:
        for row in csv.reader(io.StringIO(exported_job(evil_record(text), Form.CSV), newline=""), delimiter=delimiter):
            assert not any(computes(cell) for cell in row), (text, row)


@settings(max_examples=300)
@given(st.text(alphabet=" '\"=+-@＝,;|\t\r\nab1", max_size=12))
def test_no_text_at_all_computes(text):
    line = f'"1","{harmless(text).replace(chr(34), 2 * chr(34))}","2"'
    for delimiter in ",;\t|":
        for row in csv.reader([line], delimiter=delimiter):
            assert not any(computes(cell) for cell in row), row


def test_the_check_for_formulas_finds_them():
    assert computes("=1+1") and computes(' "=1') and computes("-2+3") and not computes("-5.5") and not computes("a=b")


def test_the_csv_is_one_row_an_event_with_figures_as_figures(ledger):
    text = exported_job(record_of(ledger, whole_story(ledger)), Form.CSV)
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert tuple(rows[0]) == HEAD and len(rows) == 1 + len(STORY)
    reading = next(row for row in rows if row["kind"] == "reading-taken")
    assert (reading["value"], reading["unit"], reading["minutes"], reading["energy"]) == ("23.4", "V", "1.5", "stopped")
    cold = record(OPENING, ReadingTaken(check="c", value=-5.5, unit="V"))
    assert list(csv.DictReader(io.StringIO(exported_job(cold, Form.CSV), newline="")))[1]["value"] == "-5.5"


def test_steering_characters_are_shown_as_such_and_lines_are_joined():
    assert visible("a\nb\t c\x1b[2J\u202e") == "a b c\ufffd[2J\ufffd"


def test_every_event_of_the_story_says_something_to_a_reader():
    for event in events_of([OPENING, *STORY]):
        line = log_line(event)
        assert line.title and (
            line.subject or line.result or line.words or line.text or event.detail.kind is EventKind.RESUMED
        )
