import base64
import hashlib
import json
import os
import re
import subprocess
import sys
from dataclasses import replace

import html5lib
import pytest

from assistant.errors import SettingsError
from eval.measures import Measure, measure
from eval.report.confusion import OUTSIDE as NOTHING
from eval.report.confusion import confusions, matrix
from eval.report.details import details
from eval.report.page import report, write_report
from eval.report.plots import bar_plot, latency_plot, risk_plot, scale_plot
from eval.report.verdicts import Verdict, faults, rank_of, remark, verdict, winner_of
from eval.report.views import entry_views, set_views
from eval.report.words import figure, judged, wording
from eval.runs import keep_run
from eval.tables import Table
from tests.conftest import ROOT
from tests.eval.sample_run import (
    BIGGER,
    BRIDGE,
    EVIL,
    FILM,
    FUSE,
    GATE,
    GIVEN_UP,
    HOSTILE,
    OTHER_WISH,
    OUTSIDE,
    REFUSED,
    RIGHT,
    SECOND,
    SEEN,
    STOLEN,
    sample,
)

TABLE = Table(title=f"Coverage {EVIL}", note=f"Said {EVIL}", header=("Entry", EVIL), rows=((EVIL, "0.5"), (GATE, "2")))
SCALE = ((1_000, 0.5), (10_000, 4.0))
BARS = {"R@1": 0.9, "falsely refused of other": 0.5}


@pytest.fixture(scope="module")
def page(knowledge):
    return report(sample(knowledge), knowledge, [TABLE], SCALE, BARS, threshold=0.5)


@pytest.fixture(scope="module")
def tree(page):
    """The parsed page; raises on the first thing that is not HTML as the standard has it."""
    return html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(page)


def text_of(element) -> str:
    return " ".join("".join(element.itertext()).split())


def by_id(tree, name):
    (found,) = [e for e in tree.iter() if e.get("id") == name]
    return found


def test_the_verdicts_of_the_sample_are_as_planted():
    assert [verdict(o) for o in SEEN] == [
        Verdict.RIGHT, Verdict.NEARLY, Verdict.WRONG, Verdict.WRONG, Verdict.RIGHT, Verdict.RIGHT, Verdict.NEARLY, Verdict.RIGHT,
    ]  # fmt: skip


def test_a_right_refusal_is_right_though_no_ranking_holds_a_refusal():
    assert BRIDGE in REFUSED.case.wanted and BRIDGE not in REFUSED.ranking
    assert faults(REFUSED) == () and remark(REFUSED) == "" and rank_of(REFUSED, BRIDGE) == 1


def test_a_refusal_as_another_wish_says_which():
    assert remark(OTHER_WISH) == f"refused as {BIGGER}"


def test_a_turn_that_shows_no_entry_has_no_winner():
    assert winner_of(GIVEN_UP) == "" and winner_of(OUTSIDE) == GATE


def test_confusions_name_who_took_what_from_whom():
    pairs = confusions(SEEN)
    assert [(p.wanted, p.winner, p.questions) for p in pairs] == [
        (NOTHING, GATE, (SEEN.index(OUTSIDE),)),
        (FILM, FUSE, (SEEN.index(SECOND),)),
        (FUSE, GATE, (SEEN.index(STOLEN),)),
        (BRIDGE, BIGGER, (SEEN.index(OTHER_WISH),)),
    ]
    twice = confusions((STOLEN, STOLEN, SECOND))
    assert [(p.wanted, p.times) for p in twice] == [(FUSE, 2), (FILM, 1)]


def test_the_matrix_holds_every_count_between_its_entries():
    counts = matrix(confusions((STOLEN, STOLEN, SECOND, OUTSIDE)), 2)
    assert counts.rows == (FUSE, NOTHING) and counts.columns == (GATE,)
    assert counts.counts == ((2,), (1,))


def test_an_entry_knows_who_asks_for_it_and_who_takes_from_it(knowledge):
    views = {v.id: v for v in entry_views(SEEN, knowledge, confusions(SEEN))}
    fuse, gate = views[FUSE], views[GATE]
    assert [(a.question, a.rank, a.won, a.winner) for a in fuse.asked] == [(STOLEN.case.q, 0, False, GATE)]
    assert fuse.thieves == ((GATE, 1),) and [a.question for a in fuse.steals] == [SECOND.case.q]
    assert gate.won == 1 and [a.question for a in gate.steals] == [STOLEN.case.q, OUTSIDE.case.q]
    assert views[FILM].won == 1 and len(views[FILM].asked) == 2
    assert fuse.phrasings == next(len(e.phrasings) for e in knowledge.entries() if e.full_id == FUSE)
    assert set(views) == {str(e.full_id) for e in knowledge.entries()}


def test_sets_count_how_their_questions_went(knowledge):
    assert [(s.name, s.questions, s.right, s.nearly, s.wrong) for s in set_views(sample(knowledge))] == [
        ("development", 4, 1, 1, 2),
        ("held-out", 4, 3, 1, 0),
    ]


def test_a_measure_is_held_against_its_bar_the_way_it_improves():
    def made(name, mean, low, high):
        return Measure(name=name, mean=mean, low=low, high=high, n=9)

    assert judged(made("R@1", 0.9, 0.85, 0.95), 0.8) == "met"
    assert judged(made("R@1", 0.9, 0.75, 0.95), 0.8) == "met, not surely"
    assert judged(made("R@1", 0.7, 0.65, 0.95), 0.8) == "missed"
    assert judged(made("falsely refused of benign", 0.02, 0.0, 0.03), 0.04) == "met"
    assert judged(made("falsely refused of benign", 0.05, 0.0, 0.09), 0.04) == "missed"
    assert judged(made("falsely refused of a set to come", 0.05, 0.0, 0.09), 0.04) == "missed"
    assert judged(made("R@1", 0.9, 0.85, 0.95), None) == "" and judged(measure("R@1", []), 0.5) == ""
    assert figure(1 / 3, wording(made("R@1", 1 / 3, 0.2, 0.4))) == "33.3 %"
    assert figure(1 / 3, wording(made("AURC", 1 / 3, 0.2, 0.4))) == "0.333"


def test_the_bars_say_their_figures_in_words():
    plot = bar_plot("b", "Bars", [measure("R@1", [1.0, 0.0, 1.0]), measure("code found", [])], {"R@1": 0.5})
    assert f"R@1 {100 * 2 / 3:.1f} %" in plot.svg and "code found" not in plot.svg
    assert "bar that is wanted" in plot.caption
    assert "bar that is wanted" not in bar_plot("b", "Bars", [measure("R@3", [1.0])], {"R@1": 0.5}).caption


def test_the_operating_point_is_where_the_threshold_cuts():
    plot = risk_plot("r", "Risk", [0.9, 0.8, 0.6, 0.1], [0.0, 1.0, 0.0, 1.0], 0.5)
    assert f"{100 * 3 / 4:.1f} % of the questions are answered" in plot.caption
    assert f"{100 * 1 / 3:.1f} % of those first hits are wrong" in plot.caption
    assert f"(AURC) {(0 / 1 + 1 / 2 + 1 / 3 + 2 / 4) / 4:.3f}" in plot.caption


def test_latency_and_scale_say_their_figures_in_words():
    assert (
        "at most 30.0 ms, 95 % at most 48.0 ms, the slowest 50.0"
        in latency_plot("l", "L", [10, 20, 30, 40, 50]).caption
    )
    assert "1,000 passages 0.50 ms; 10,000 passages 4.00 ms" in scale_plot("s", "S", SCALE[::-1]).caption


@pytest.mark.parametrize("seen", [(), (0.0,), (5.0, 5.0)])
def test_plots_of_next_to_nothing_are_still_drawn(seen):
    for plot in (
        latency_plot("l", "L", seen),
        risk_plot("r", "R", seen, [0.0] * len(seen), 0.5),
        bar_plot("b", "B", [], {}),
    ):
        assert "<svg" in plot.svg and plot.caption


def test_two_plots_share_no_id_and_no_borrowed_colour_is_left(page, tree):
    ids = [e.get("id") for e in tree.iter() if e.get("id")]
    assert len(ids) == len(set(ids))
    assert not re.search(r"#0101\d\w|#01010\w", page.split('<script type="application/json"')[0])
    assert "var(--series-1)" in page and "var(--heat-1)" in page
    for name in re.findall(r'(?:url\(#|href="#)([^)"]+)', page):
        assert name in ids


def test_the_same_run_gives_the_same_bytes_in_any_process(knowledge, tmp_path):
    keep_run(sample(knowledge), tmp_path / "run.json")
    code = (
        "import sys\nfrom pathlib import Path\nfrom assistant.corpus.reader import read_knowledge\n"
        "from eval.runs import read_run\nfrom eval.report.page import write_report\n"
        "write_report(Path(sys.argv[2]), read_run(Path(sys.argv[1])), read_knowledge(Path('knowledge')), scale=[(9, 0.1)])\n"
    )
    digests = set()
    for seed in ("1", "2"):
        made = tmp_path / f"{seed}.html"
        environment = {**os.environ, "PYTHONHASHSEED": seed, "TZ": f"UTC{seed}", "PYTHONPATH": str(ROOT)}
        command = [sys.executable, "-c", code, str(tmp_path / "run.json"), str(made)]
        subprocess.run(command, check=True, cwd=ROOT, env=environment)
        digests.add(hashlib.sha256(made.read_bytes()).hexdigest())
    assert len(digests) == 1


def test_a_question_that_is_markup_stays_text(page, tree):
    assert page.count("<script") == 2
    assert [e.tag for e in tree.iter() if e.tag in ("img", "iframe", "link", "object")] == []
    assert [a for e in tree.iter() if isinstance(e.tag, str) for a in e.attrib if a.startswith("on")] == []
    told = json.loads(text_of(by_id(tree, "details")))
    assert EVIL in told["texts"]
    assert EVIL in text_of(by_id(tree, f"question-{SEEN.index(HOSTILE)}"))
    assert text_of(by_id(tree, "finding-1")) == TABLE.title


def test_only_the_report_s_own_script_may_run(page):
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', page).group(1)
    (own,) = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(own.encode()).digest()).decode()
    assert "default-src 'none'" in policy and f"script-src 'sha256-{digest}'" in policy.replace("&#39;", "'")


def test_nothing_is_fetched_from_anywhere(page, tree):
    assert "http://" not in page and "https://" not in page and "@import" not in page
    for element in tree.iter():
        assert not element.get("src") and (element.get("href") or "#").startswith("#")
    assert "url(" not in page.split("</style>")[0]


def test_every_plot_has_words_for_those_who_do_not_see_it(tree):
    drawings = [e for e in tree.iter() if str(e.tag).rpartition("}")[2] == "svg"]
    assert len(drawings) == 2 + 2 + 1 + 1 + 1
    for drawn in drawings:
        assert drawn.get("role") == "img"
        for name in drawn.get("aria-labelledby").split():
            assert text_of(by_id(tree, name))
    figures = list(tree.iter("figure"))
    assert len(figures) == len(drawings) and all(text_of(f.find("figcaption")) for f in figures)


def test_headings_descend_one_level_at_a_time_and_tables_have_captions_and_scopes(tree):
    levels = [int(e.tag[1]) for e in tree.iter() if e.tag in ("h1", "h2", "h3", "h4")]
    assert levels.count(1) == 1 and all(b - a <= 1 for a, b in zip(levels, levels[1:], strict=False))
    for table in tree.iter("table"):
        assert text_of(table.find("caption"))
        assert all(head.get("scope") in ("col", "row") for head in table.iter("th"))
        widths = {len(row) for row in table.iter("tr")}
        assert len(widths) == 1


def test_the_planted_wrong_question_is_told_in_row_entry_pair_and_details(knowledge, tree, page):
    place = SEEN.index(STOLEN)
    row = by_id(tree, f"question-{place}")
    assert row.get("data-verdict") == "wrong" and "no warning of electric-shock" in text_of(row)
    assert f"got {GATE}, {FILM}, wanted {FUSE}" in text_of(row)
    entry = text_of(by_id(tree, f"entry/{FUSE}"))
    assert f"{STOLEN.case.q}: not among the hits, won by {GATE}" in entry and f"{GATE}: 1 question" in entry
    assert f"Questions that it takes {SECOND.case.q}" in entry
    told = json.loads(text_of(by_id(tree, "details")))
    item = told["questions"][place]
    assert [told["texts"][hit[0]] for hit in item["hits"]] == [GATE, FILM]
    assert told["rankers"] == ["asked", "told"] and item["hits"][1][1:3] == [0.5, [2, 0]]
    assert told["texts"][item["hits"][0][3]] == f"passage of {GATE}"
    assert (item["covered"], item["unsafe"], item["missing"]) == (0.7, 0.25, ["electric-shock"])
    assert [told["texts"][t] for t in item["told"]] == list(STOLEN.told)


def test_a_text_that_many_answers_share_is_kept_once():
    told = details(SEEN)
    assert told["texts"].count(RIGHT.told[0]) == 1 and len(told["questions"]) == len(SEEN)


def test_without_a_scale_or_tables_the_page_says_so_or_leaves_them_out(knowledge, page):
    bare = report(sample(knowledge), knowledge, threshold=0.5)
    assert "was not measured in this run" in bare and 'id="findings"' not in bare
    assert "was not measured in this run" not in page and 'id="findings"' in page


def test_a_run_of_older_knowledge_is_told(knowledge, page):
    assert "was edited after these questions" not in page
    assert "was edited after these questions" in report(sample(knowledge, digest="0" * 12), knowledge, threshold=0.5)


def test_the_head_names_signature_and_digest_and_no_time(knowledge, page):
    assert knowledge.digest in page and "encoder:e" in page
    assert not re.search(r"\b20\d\d-\d\d-\d\d|\d\d:\d\d:\d\d", page)


def test_a_run_without_a_fault_has_no_matrix(knowledge):
    fine = replace(sample(knowledge), sets={"development": (RIGHT, GIVEN_UP, REFUSED)})
    assert "No entry took a question of another" in report(fine, knowledge, threshold=0.5)


def test_a_report_that_cannot_be_written_says_where_and_what_to_do(knowledge, tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(SettingsError) as caught:
        write_report(tmp_path / "file" / "report.html", sample(knowledge), knowledge)
    assert "report.html" in caught.value.message and caught.value.hint


# --- colours


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio, WCAG 2.2."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def themes() -> list[dict[str, str]]:
    """Colours of day, of night by the system, of night by choice, and of paper."""
    style = (ROOT / "eval/report/style.css").read_text()
    blocks = [
        dict(re.findall(r"--([\w-]+): (#[0-9a-f]{3,6})\b", block))
        for block in re.findall(r"\{([^{}]*--page:[^{}]*)\}", style)
    ]
    return [{name: c if len(c) == 7 else "#" + "".join(2 * x for x in c[1:]) for name, c in b.items()} for b in blocks]


def test_the_contrast_of_black_on_white_is_twenty_one():
    assert contrast("#000000", "#ffffff") == pytest.approx((1 + 0.05) / (0 + 0.05))


def test_text_and_marks_stand_out_by_day_by_night_and_on_paper():
    found = themes()
    assert len(found) == 4 and found[1] == found[2]
    for theme in found:
        for ground in ("page", "card"):
            for text in ("ink", "soft", "link", "right", "nearly", "wrong"):
                assert contrast(theme[text], theme[ground]) >= 4.5, (text, ground, theme)
        for heat in ("heat-1", "heat-2", "heat-3", "heat-4"):
            assert contrast(theme["ink"], theme[heat]) >= 4.5, (heat, theme)
        for mark in ("series-1", "series-2", "wanted"):
            assert contrast(theme[mark], theme["card"]) >= 3.0, (mark, theme)


def test_a_run_without_a_question_is_still_a_page(knowledge):
    empty = report(replace(sample(knowledge), sets={"development": ()}), knowledge, threshold=0.5)
    html5lib.HTMLParser(strict=True).parse(empty)
    assert "0 questions were asked" in empty
