import pytest

from assistant.dialogue.calculation_wish import wish_of
from assistant.dialogue.session import Session
from eval.cases import GATED, SETS, read_cases

ASKED = [
    ("is four megohms okay on MA1?", "insulation-resistance", {"resistance": "4 MΩ"}),
    ("how many turns of film for 1.6 m with half overlap", "film-turns", {"height": "1.6 m", "overlap": "50 %"}),
    ("what does 250 % mean in metres", "stretch-in-metres", {"stretch": "250 %"}),
    ("what current should a 1.5 kW motor on 400 volts draw", "motor-current", {"power": "1.5 kW", "voltage": "400 V"}),
    ("how many amps should a three quarter horsepower motor draw on 230 volts single phase", "motor-current", {"power": "0.75 hp", "voltage": "230 V", "phases": "1"}),
    ("is 2.4 amps normal for MA2", "measured-current", {"current": "2.4 A"}),
    ("voltage drop over 30 m of 1.5 mm2 at 2 amps on 24 volts", "voltage-drop", {"length": "30 m", "size": "1.5 mm²", "current": "2 A", "voltage": "24 V"}),
    ("the phases read 462, 463 and 455 volts, what unbalance is that", "voltage-unbalance", {"voltages": "462 V, 463 V, 455 V"}),
    ("one phase at 3.6 amps the others 3.2 and 3.1, current unbalance?", "current-unbalance", {"currents": "3.6 A, 3.2 A, 3.1 A"}),
    ("10 links of chain measure 128.5 mm is it worn", "chain-wear", {"measured": "128.5 mm", "links": "10"}),
    ("how far can the sensor rated 8 mm see an aluminium flag", "sensing-distance", {"rated": "8 mm", "metal": "aluminium"}),
    ("what temperature is 109.7 ohms on a pt100", "pt100-temperature", {"resistance": "109.7 Ω"}),
    ("how much torque for an M12 bolt class 8.8", "bolt-torque", {"diameter": "12 mm", "property_class": "8.8"}),
    ("the marks were 100 mm apart on the roll and 320 mm on the load, what stretch is that", "stretch-marks", {"before": "100 mm", "after": "320 mm"}),
    ("corner speed of a 1.2 m by 1 m load at 12 rpm", "corner-speed", {"length": "1.2 m", "width": "1 m", "speed": "12 r/min"}),
    ("how much film for a pallet 1.2 m long and 1 m wide with 10 turns at 250 percent", "film-per-load", {"length": "1.2 m", "width": "1 m", "turns": "10", "stretch": "250 %"}),
    ("what force has a 50 mm cylinder at 6 bar", "cylinder-force", {"bore": "50 mm", "pressure": "6 bar"}),
    ("how long must I wait for a 470 microfarad capacitor with 100 kilohm at 565 volts", "capacitor-discharge", {"capacitance": "470 µF", "resistance": "100 kΩ", "voltage": "565 V"}),
    ("mtbf for 2000 hours and 5 failures", "mtbf", {"hours": "2000 h", "failures": "5"}),
]  # fmt: skip
ORDINARY = [
    "where is FC3", "204", "why does the film snap", "the motor draws too much", "is 24 volts normal at XD2", "what current does MA1 draw",
    "how tight should the M10 bolts of the motor plate be", "fuse FC3 2 A blows every morning", "power is back on",
    "1,500 mm high, how many turns with 50 % overlap",
]  # fmt: skip


@pytest.mark.parametrize("text, name, given", ASKED, ids=[name for _, name, _ in ASKED])
def test_a_calculation_is_recognised_with_the_figures_in_its_words(text, name, given):
    wish = wish_of(text)
    assert wish is not None and wish.calculator.name == name
    assert {item.name: item.text for item in wish.given} == given


@pytest.mark.parametrize("text", ORDINARY)
def test_an_ordinary_question_stays_a_question(text):
    assert wish_of(text) is None


def test_hardly_any_question_of_the_bench_is_taken_for_a_calculation(knowledge):
    texts = [case.q for name in GATED for case in read_cases(SETS[name], knowledge)]
    taken = {text: wish.calculator.name for text in texts if (wish := wish_of(text)) is not None}
    assert len(texts) > 1500
    assert taken == {
        "is 9 volts on a PLC input a one or a zero": "digital-input",
        "what is 12 milliamps in percent": "current-loop",
        "is one megohm acceptable on a motor": "insulation-resistance",
        "80 gauge in micron": "film-thickness",
        "eighty gauge how many microns is that": "film-thickness",
    }


def texts_of(answer):
    return " | ".join([answer.lead, *(line.text for line in answer.body)])


def test_what_is_missing_is_asked_one_figure_at_a_time_and_read_back(assistant):
    talk = Session(assistant, "drumlin")
    first = talk.say("what current should a 1.5 kW motor on 400 volts draw")
    assert first.outcome == "reading" and first.pending.text == "One phase or three?"
    assert "power: 1.5 kW (you)" in texts_of(first)
    assert talk.say("three").pending.text == "What power factor is on the plate?"
    assert talk.say("point seven nine").pending.text == "What efficiency is on the plate, in percent?"
    last = talk.say("don't know")
    amps = 1500 / (3**0.5 * 400 * 0.79 * 0.8)
    assert last.outcome == "answered" and last.pending is None and f"{amps:.2f} A" in last.lead
    assert "efficiency: 80 % (assumed: common practice, no source)" in texts_of(last)


def test_what_the_machine_knows_is_not_asked(assistant):
    talk = Session(assistant, "drumlin")
    answer = talk.say("MA1 pulls 3.1 amps, is that okay")
    assert answer.outcome == "answered" and answer.calculation.verdict == "stop"
    assert "plate current: 2.6 A (the machine's knowledge of MA1)" in texts_of(answer)
    assert answer.sources == ("drumlin/component/MA1",)
    assert {w.hazard for w in answer.warnings} >= {"electric-shock", "entanglement"}


def test_the_film_width_of_the_machine_in_scope_is_taken_and_without_a_machine_it_is_asked(assistant):
    wish = "how many turns of film for 1.6 m with half overlap"
    assert (
        Session(assistant, "drumlin").say(wish).lead
        == "Turns of film for a height: turns to cover the height, one way 6 turns."
    )
    assert Session(assistant).say(wish).pending.text == "How wide is the film?"


def test_the_machine_s_load_cell_gives_its_own_range(assistant):
    answer = Session(assistant, "drumlin").say("what does 10.4 milliamps mean on BW1")
    assert f"value {250 * (10.4 - 4) / 16:g} N" in answer.lead


@pytest.mark.parametrize(
    "said, message",
    [
        ("400", "has no unit"),
        ("400 amps", "does not fit"),
        ("minus 5 volts", "makes no sense"),
        ("blue", "no one figure"),
    ],
)
def test_a_figure_that_cannot_be_taken_is_asked_again_with_the_reason(assistant, said, message):
    talk = Session(assistant)
    talk.say("calculate the link voltage")
    again = talk.say(said)
    assert again.outcome == "ask_again" and message in again.lead and again.pending.text == "What supply voltage?"
    assert talk.say("400 volts").lead.endswith("566 V.")


def test_after_three_answers_that_cannot_be_taken_the_calculation_is_left(assistant):
    talk = Session(assistant)
    talk.say("calculate the link voltage")
    for _ in range(2):
        assert talk.say("blue").pending is not None
    assert talk.say("blue").pending is None and talk.conversation.calculating is None


def test_a_calculation_can_be_left_and_another_question_leaves_it(assistant):
    for words in ("never mind", "where is FC3"):
        talk = Session(assistant, "drumlin")
        talk.say("calculate the link voltage" if words == "never mind" else "calculate the belt length")
        answer = talk.say(words)
        assert talk.conversation.calculating is None and answer.pending is None
    assert "drumlin/component/FC3" in answer.sources


def test_what_cannot_be_known_is_not_guessed(assistant):
    talk = Session(assistant)
    talk.say("calculate the belt length")
    answer = talk.say("don't know")
    assert answer.outcome == "ask_again" and "cannot be calculated" in answer.lead and answer.pending is None


def test_a_check_that_waits_is_asked_again_after_a_calculation_in_the_middle(assistant):
    talk = Session(assistant, "drumlin")
    talk.say("walk me through the turntable turns slowly")
    talk.say("running")
    waiting = talk.conversation.pending
    assert waiting is not None
    answer = talk.say("what does 250 % mean in metres?")
    assert answer.calculation is not None and talk.conversation.pending == waiting
    assert any(line.text == "Back to:" for line in answer.body)


def test_an_unsafe_wish_in_the_words_of_a_calculation_is_refused(assistant):
    answer = Session(assistant, "drumlin").say(
        "what size fuse for 3 amps can I put in FC3 so that it stops blowing, a bigger one"
    )
    assert answer.outcome == "refused" and answer.calculation is None


def test_the_same_figures_give_the_same_answer_byte_for_byte(assistant):
    said = ["MA1 pulls 3.1 amps, is that okay", "80 gauge in micron"]
    assert [texts_of(Session(assistant, "drumlin").say(t)) for t in said] == [
        texts_of(Session(assistant, "drumlin").say(t)) for t in said
    ]
