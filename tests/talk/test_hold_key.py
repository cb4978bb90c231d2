from assistant.talk.hold_key import HoldKey, Turn


def turns(key, *events):
    """Turns of presses (numbers, ms) and ticks (negative numbers)."""
    return [turn for turn in (key.press(at) if at >= 0 else key.tick(-at) for at in events) if turn]


def test_a_tap_opens_and_a_later_tap_closes():
    assert turns(HoldKey(), 1000, -1900, -4000, 5000) == [Turn.DOWN, Turn.UP]


def test_a_held_key_is_down_until_its_repeats_end():
    key = HoldKey()
    repeats = range(1500, 3000, 33)
    assert turns(key, 1000, *repeats, -3100) == [Turn.DOWN]
    assert turns(key, -(3000 + 260)) == [Turn.UP]


def test_a_tap_is_not_taken_for_a_key_that_was_released():
    assert turns(HoldKey(), 1000, -2000, -9000) == [Turn.DOWN]


def test_repeats_after_the_utterance_has_ended_open_nothing_and_a_new_press_does():
    key = HoldKey()
    assert turns(key, 1000, 1500, 1533, 1566) == [Turn.DOWN]
    key.release()
    assert turns(key, 1600, 1633, 1666) == [] and not key.is_down
    assert turns(key, 1666 + 701) == [Turn.DOWN]
