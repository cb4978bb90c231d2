import pytest

from assistant.recognition.wire_forms import TerminalMention, terminals_in, wires_in


@pytest.mark.parametrize(
    "text, numbers",
    [
        ("where does wire 24 land", ("24",)),
        ("wire one one three", ("113",)),
        ("wire a hundred", ()),
        ("wire one hundred and thirteen", ("113",)),
        ("wire one thirteen", ("113",)),
        ("wire twenty-four please", ("24",)),
        ("wires 41 and 42", ("41", "42")),
        ("wire number 7", ("7",)),
        ("wire 1 1 3", ("113",)),
        ("34, that wire", ("34",)),
        ("number thirty one wire", ("31",)),
        ("the 41 wire", ("41",)),
        ("2 wire prox on a plc", ()),
        ("wire it to 24 V", ()),
        ("a wire 24 V is on", ()),
        ("the three wire sensor", ()),
        ("the wire is off", ()),
    ],
)
def test_wires_are_understood_as_they_are_said(text, numbers):
    assert wires_in(text) == numbers


@pytest.mark.parametrize(
    "text, named",
    [
        ("XD2:14", [("XD2", "14")]),
        ("x d two fourteen", [("XD2", "14")]),
        ("terminal fourteen of X D 2", [("XD2", "14")]),
        ("X D two colon seventeen", [("XD2", "17")]),
        ("XD1 terminal 7", [("XD1", "7")]),
        ("ex dee two, terminal three", [("XD2", "3")]),
        ("terminal 31", [("", "31")]),
        ("XD3:5 and 6", [("XD3", "5"), ("XD3", "6")]),
        ("xd1 p e", [("XD1", "PE")]),
        ("measure at XD2", []),
        ("XD2 24 V is missing", []),
        ("the red light on the fuse terminal", []),
    ],
)
def test_terminals_are_understood_as_they_are_said(text, named):
    assert terminals_in(text) == tuple(TerminalMention(rail=rail, number=number) for rail, number in named)
