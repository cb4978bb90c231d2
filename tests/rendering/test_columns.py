from hypothesis import given
from hypothesis import strategies as st

from assistant.rendering.columns import table_lines

WORDS = st.text(alphabet="abcdefgh XD:12", min_size=0, max_size=60)


def test_short_cells_stand_in_columns_under_a_rule():
    lines = table_lines(["wire", "to"], [["1", "QA1"], ["24", "KF2 I6"]], 80)
    assert lines == ("wire  to", "----  ------", "1     QA1", "24    KF2 I6")


def test_the_widest_column_gives_way_and_its_cells_are_wrapped():
    lines = table_lines(["wire", "to"], [["1", "one two three four"]], 16)
    assert lines == ("wire  to", "----  ----------", "1     one two", "      three four")


@given(st.lists(st.tuples(WORDS, WORDS, WORDS), max_size=6))
def test_no_line_is_wider_than_asked_and_no_character_is_lost(rows):
    lines = table_lines(["one", "two", "three"], rows, 40)
    assert all(len(line) <= 40 for line in lines)
    wanted = sorted("".join(cell for row in rows for cell in row).replace(" ", ""))
    assert sorted("".join(lines[2:]).replace(" ", "")) == wanted
