import pytest

pytestmark = pytest.mark.engine


@pytest.mark.parametrize(
    ("text", "pack"),
    [("which eye does the fellgate have at the wrapper end", "fellgate"),
     ("the pallet from the wrapper stops on the conveyor", "fellgate"),
     ("pallet comes off the pallet wrapper and the roller conveyor stands", "fellgate"),
     ("the wrapper stops at the first turn", "drumlin"),
     ("noise behind the wrapper", None),
     ("the carton sealer beside the wrapper jams", "skerry")],
)  # fmt: skip
def test_the_machine_meant_is_not_the_place_named(assistant, text, pack):
    assert assistant.formulator.formulate(text, None).query.scope == pack
