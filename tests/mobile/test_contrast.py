import pytest

from mobile.look import DAY, DUSK, SHAPE_PAIRS, TEXT_PAIRS, contrast

LOOKS = {"day": DAY, "dusk": DUSK}


def test_black_on_white_is_21_to_1() -> None:
    # WCAG 2.2, definition of contrast ratio: 1 to 21
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("pair", TEXT_PAIRS, ids="-".join)
def test_text_has_a_contrast_of_at_least_7_to_1(look: str, pair: tuple[str, str]) -> None:
    ink, ground = (LOOKS[look][token] for token in pair)
    assert contrast(ink, ground) >= 7.0


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("pair", SHAPE_PAIRS, ids="-".join)
def test_shapes_that_mean_something_have_at_least_3_to_1(look: str, pair: tuple[str, str]) -> None:
    shape, ground = (LOOKS[look][token] for token in pair)
    assert contrast(shape, ground) >= 3.0


def test_day_and_dusk_have_the_same_tokens() -> None:
    assert set(DAY) == set(DUSK)
