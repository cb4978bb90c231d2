import pytest

from eval.tables import NARROWEST, WIDTH, Table, as_lines


def table(*rows, header=("count", "words")):
    return Table(title="Things", note="What they are.", header=header, rows=rows)


def test_numbers_stand_to_the_right_and_words_to_the_left():
    lines = as_lines(table(("1", "one"), ("100", "a hundred")))
    assert lines[:2] == ["Things (2)", "  What they are."]
    assert lines[3:] == ["      1  one", "    100  a hundred"]


def test_no_line_is_wider_than_the_page_and_no_word_is_lost():
    text = "a long tale " * 60
    lines = as_lines(table(("drumlin/fault/x", text), ("y", "short"), header=("entry", "told")))
    assert max(map(len, lines)) <= WIDTH
    assert " ".join(lines).split().count("tale") == 60


def test_a_page_too_narrow_for_its_columns_leaves_each_some_letters():
    wide = tuple("w" * 50 for _ in range(9))
    lines = as_lines(table(wide, header=tuple(f"h{i}" for i in range(9))))
    assert sum(line.count("w") for line in lines) == 9 * 50
    assert all(len(cell) <= NARROWEST for line in lines[2:] for cell in line.split())


def test_an_empty_table_says_so():
    assert as_lines(table())[-1] == "  none"


def test_a_row_of_another_length_than_the_header_is_an_error():
    with pytest.raises(ValueError, match="1 cells under 2 headings"):
        table(("1",))


def test_the_head_says_what_is_left_off():
    whole = table(("1", "a"), ("2", "b"), ("3", "c"))
    assert whole.head(0) == whole.head(3) == whole
    assert len(whole.head(1).rows) == 1 and "(2 more rows left off.)" in whole.head(1).note
