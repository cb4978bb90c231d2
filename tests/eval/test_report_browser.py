"""The report in a real browser, from disk. Chromium is driven through a pipe, so that no socket is opened."""

import io
import shutil

import pytest
from PIL import Image

from eval.report.page import write_report
from tests.eval.sample_run import EVIL, FUSE, GATE, HOSTILE, SEEN, STOLEN, sample

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
CHROMIUM = next((found for found in map(shutil.which, NAMES) if found), None)
pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(
        CHROMIUM is None, reason=f"none of {', '.join(NAMES)} is installed (Debian: apt-get install chromium)"
    ),
]
ROWS = "#question-table > tbody > tr:not(.detail):visible"


@pytest.fixture(scope="module")
def browser():
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as driver:
        # a container's root may not use the sandbox; the page under test is our own
        started = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield started
        started.close()


@pytest.fixture(scope="module")
def address(knowledge, tmp_path_factory):
    path = tmp_path_factory.mktemp("report") / "report.html"
    write_report(path, sample(knowledge), knowledge, bars={"R@1": 0.5})
    return path.as_uri()


@pytest.fixture
def page(browser, address):
    """The page, opened; whatever it complains of or asks for fails the test."""
    context = browser.new_context(
        viewport={"width": 1280, "height": 900}, color_scheme="light", reduced_motion="reduce"
    )
    opened = context.new_page()
    troubles = []
    opened.on("console", lambda message: troubles.append(message.text))
    opened.on("pageerror", lambda error: troubles.append(str(error)))
    opened.on("request", lambda request: None if request.url.startswith(address) else troubles.append(request.url))
    opened.goto(address)
    yield opened
    context.close()
    assert troubles == []


def questions(page):
    return page.locator(f"{ROWS} > th").all_inner_texts()


def ground(page):
    return page.evaluate("getComputedStyle(document.body).backgroundColor")


def test_all_questions_are_shown_and_each_filter_leaves_those_that_fit(page):
    assert len(questions(page)) == len(SEEN)
    page.get_by_role("combobox", name="Went").select_option("wrong")
    assert len(questions(page)) == 2 and "2 of 8 questions fit." in page.locator("#count").inner_text()
    page.get_by_role("combobox", name="Set").select_option("held-out")
    assert questions(page) == []
    page.get_by_role("button", name="Show every question again").click()
    assert len(questions(page)) == len(SEEN)
    page.get_by_role("combobox", name="Group").select_option("hostile")
    assert questions(page) == [HOSTILE.case.q]
    page.get_by_role("button", name="Show every question again").click()
    page.get_by_role("combobox", name="Outcome").select_option("refused")
    assert len(questions(page)) == 2
    page.get_by_role("button", name="Show every question again").click()
    page.get_by_label("Words in the question").fill("FUSE electric")
    assert questions(page) == [STOLEN.case.q]


def test_a_column_is_sorted_up_and_down_with_the_keyboard(page):
    head = page.locator("#question-table > thead th", has_text="ms")
    assert head.get_attribute("aria-sort") == "none"
    head.get_by_role("button").focus()
    page.keyboard.press("Enter")
    times = [float(t) for t in page.locator(f"{ROWS} > td:last-child").all_inner_texts()]
    assert times == sorted(times) and len(set(times)) > 1 and head.get_attribute("aria-sort") == "ascending"
    page.keyboard.press("Space")
    times = [float(t) for t in page.locator(f"{ROWS} > td:last-child").all_inner_texts()]
    assert times == sorted(times, reverse=True) and head.get_attribute("aria-sort") == "descending"


def test_a_question_is_opened_and_shut_with_the_keyboard_and_shows_its_details(page):
    button = page.get_by_role("button", name=STOLEN.case.q)
    assert button.get_attribute("aria-expanded") == "false"
    button.focus()
    page.keyboard.press("Enter")
    detail = page.locator(f"#{button.get_attribute('aria-controls')}")
    said = detail.inner_text()
    for part in (
        f"passage of {GATE}",
        "0.5000",
        "not found",
        "cutting",
        "electric-shock",
        "70.0 %",
        "25.0 %",
        "A line that was told.",
    ):
        assert part in said
    assert button.get_attribute("aria-expanded") == "true"
    page.keyboard.press("Enter")
    assert detail.count() == 0 and button.get_attribute("aria-expanded") == "false"


def test_the_tab_key_reaches_the_skip_link_first_and_what_has_the_focus_is_outlined(page):
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the report"
    for _ in range(3):
        page.keyboard.press("Tab")
        assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") != "none"


def test_a_link_from_entry_to_question_opens_it_though_a_filter_hides_it_and_back(page):
    page.get_by_role("combobox", name="Went").select_option("right")
    page.locator(f"[id='entry/{FUSE}'] summary").click()
    page.locator(f"[id='entry/{FUSE}']").get_by_role("link", name=STOLEN.case.q).click()
    detail = page.locator(f"#question-{SEEN.index(STOLEN)}-detail")
    assert detail.is_visible() and page.locator(f"#question-{SEEN.index(STOLEN)}").is_visible()
    page.locator(f"[id='entry/{GATE}']").evaluate("entry => { entry.open = false; }")
    detail.get_by_role("link", name=GATE).first.click()
    assert page.locator(f"[id='entry/{GATE}'] p").first.is_visible()


def test_an_address_with_an_entry_opens_it_at_once(page, address):
    page.goto("about:blank")
    page.goto(f"{address}#entry/{FUSE}")
    assert page.locator(f"[id='entry/{FUSE}']").get_by_role("link", name=STOLEN.case.q).is_visible()


def test_entries_are_filtered_by_their_words(page, knowledge):
    page.get_by_label("Words in an entry").fill("replace-fuse drumlin")
    assert page.locator("details.entry:visible .id").all_inner_texts()[0] == FUSE
    count = page.locator("#entry-count").inner_text()
    assert count.endswith(f"of {len(knowledge.entries())} entries fit.") and not count.startswith(
        str(len(knowledge.entries()))
    )


def test_a_hostile_question_is_shown_as_text_and_runs_nothing(page):
    page.get_by_role("button", name="window.struck").click()
    assert page.locator(".detail .told").inner_text() == EVIL
    page.get_by_label("Words in the question").fill("<img")
    assert questions(page) == [EVIL]
    assert page.evaluate("window.struck === undefined && document.images.length === 0")


def test_night_follows_the_system_until_a_choice_is_made_and_the_choice_is_kept(page):
    day = ground(page)
    page.emulate_media(color_scheme="dark")
    night = ground(page)
    assert night != day
    page.get_by_label("day", exact=True).check()
    assert ground(page) == day
    page.reload()
    assert ground(page) == day and page.get_by_label("day", exact=True).is_checked()
    page.emulate_media(color_scheme="light")
    page.get_by_label("night", exact=True).check()
    assert ground(page) == night


@pytest.mark.parametrize("width", [320, 600, 900, 1280, 2400])
def test_the_page_is_never_wider_than_the_window(page, width):
    page.get_by_role("button", name=STOLEN.case.q).click()
    page.set_viewport_size({"width": width, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    shown = page.locator("#question-table > thead th:visible").count()
    assert page.locator(".detail > td").evaluate("cell => cell.colSpan") == shown


def test_letters_in_the_plots_stay_readable_at_320_pixels(page):
    page.set_viewport_size({"width": 320, "height": 800})
    sizes = page.locator(".plot svg text").evaluate_all(
        "all => all.map(text => parseFloat(getComputedStyle(text).fontSize) * text.getScreenCTM().d)"
    )
    assert sizes and min(abs(size) for size in sizes if size) >= 9


def test_paper_is_white_and_carries_no_controls(page):
    page.get_by_label("night", exact=True).check()
    page.emulate_media(media="print")
    assert ground(page) == "rgb(255, 255, 255)"
    for control in ("nav", "#filters", ".lamp", "#more"):
        assert not page.locator(control).first.is_visible()
    assert page.locator("#question-table").is_visible() and page.locator("figure svg").first.is_visible()


def test_a_picture_of_the_page_is_light_by_day_and_dark_by_night(page):
    def brightness():
        return sum(Image.open(io.BytesIO(page.screenshot())).convert("L").resize((1, 1)).get_flattened_data()) / 255

    day = brightness()
    page.emulate_media(color_scheme="dark")
    assert day > 0.7 and brightness() < 0.3
