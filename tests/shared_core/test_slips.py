"""Slips undone; the cases are those of the invented season, the properties hold for any stage."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_core.slips import (
    Counter,
    Plate,
    explain,
    explain_counter,
    near_power_of_ten,
    swapped,
)

# Stages that a person may read to 5 mm, away from the ends of a one-metre plate.
STAGES = st.integers(25, 175).map(lambda steps: steps * 0.005)
SG1_TO_SG2 = {"SG2": 0.550}  # zeros 71.300 and 71.850


@pytest.mark.parametrize(
    ("typed", "expected", "code", "suggests"),
    [
        (40.0, 0.402, "unit-slip", "0.400"),  # E01
        (402.0, 0.402, "unit-slip", "0.402"),
        (0.371, 0.271, "one-tenth", "0.271"),  # E02
        (1.321, 0.321, "one-metre", "0.321"),  # E26
        (0.463, 0.643, "digit-swap", "0.643"),  # E18
        (0.505, 1.055, "wrong-gauge", "SG2"),  # E08, the water over this plate
        (0.790, 0.890, "one-tenth", "0.890"),  # E16
    ],
)
def test_each_slip_of_the_season_is_the_likeliest(
    typed: float, expected: float, code: str, suggests: str
) -> None:
    best = explain(typed, expected, 0.025, other_zeros_m=SG1_TO_SG2)[0]
    assert (best.code, best.suggests) == (code, suggests)
    assert 0.5 < best.fit <= 1.0


def test_a_figure_typed_twice_or_left_out_is_found() -> None:
    twice = explain(0.2279, 0.279, 0.02, as_typed="0.2279")
    assert ("figure-doubled", "0.279") in [(slip.code, slip.suggests) for slip in twice]
    left_out = explain(0.63, 0.463, 0.02, as_typed="0.63")
    assert ("figure-dropped", "0.463") in [(slip.code, slip.suggests) for slip in left_out]


@given(true=STAGES, off=st.sampled_from([-0.1, 0.1]))
def test_a_tenth_is_undone(true: float, off: float) -> None:
    found = explain(true + off, true, 0.02)
    assert f"{true:.3f}" in [slip.suggests for slip in found]


@given(true=STAGES, unit=st.sampled_from([100.0, 1000.0]))
def test_a_unit_is_undone_first(true: float, unit: float) -> None:
    best = explain(true * unit, true, 0.03)[0]
    assert (best.code, best.suggests) == ("unit-slip", f"{true:.3f}")


@given(true=STAGES, place=st.integers(0, 2))
def test_swapped_figures_are_among_what_is_offered(true: float, place: int) -> None:
    text = f"{true:.3f}"
    figures = [0, 2, 3, 4]
    one, other = figures[place], figures[place + 1]
    letters = list(text)
    letters[one], letters[other] = letters[other], letters[one]
    typed = "".join(letters)
    if abs(float(typed) - true) > 0.04:
        assert text in [slip.suggests for slip in explain(float(typed), true, 0.02)]


@given(true=STAGES, noise=st.floats(-0.01, 0.01))
def test_a_slip_must_come_out_better_than_what_was_typed(true: float, noise: float) -> None:
    for slip in explain(true + noise, true, 0.02):
        assert slip.code != "wrong-gauge"
        assert abs(float(slip.suggests) - true) <= abs(noise) / 2 + 5e-4


def test_small_slips_are_not_guessed_in_a_wide_window() -> None:
    assert explain(0.371, 0.271, 0.12) == ()
    assert explain(1.321, 0.271, 0.12)[0].code == "one-metre"


def test_plates_that_cannot_be_told_apart_are_not_offered() -> None:
    codes = [s.code for s in explain(0.505, 0.545, 0.02, other_zeros_m={"SG3": 0.04})]
    assert "wrong-gauge" not in codes


def test_a_suggestion_lies_on_the_plate() -> None:
    assert explain(0.95, 1.05, 0.02, plate=Plate(to_m=1.0)) == ()


def test_with_nothing_expected_only_a_unit_can_be_told() -> None:
    assert [slip.suggests for slip in explain(40.0, None, 0.0)] == ["0.400", "0.040"]
    assert explain(1.06, None, 0.0) == ()
    assert explain(0.9, None, 0.0) == ()


# counters ----------------------------------------------------------------------------------------

DAY = Counter(figures=6, before=944_300, low=8_500, high=14_700)  # 0.7 and 1.2 x 23.5 h x 520 kL


def test_figures_that_fit_need_no_explaining() -> None:
    assert explain_counter("956520", DAY) == ()


@pytest.mark.parametrize(
    ("display", "before", "code", "suggests"),
    [
        ("965520", 944_300, "digit-swap", "956520"),  # E03
        ("010340", 998_120, "meter-rolled", "yes"),  # E04
        ("181420", 181_420, "meter-flat", ""),  # E11
        ("001234", 12, "unit-times-ten", "10"),  # E12
        ("122012", 12, "unit-times-ten", "0.1"),
        ("000012", 181_420, "meter-changed", ""),  # E13
        ("9565200", 944_300, "figure-doubled", "956520"),
    ],
)
def test_each_slip_of_a_counter_is_the_likeliest(
    display: str, before: int, code: str, suggests: str
) -> None:
    counter = Counter(figures=6, before=before, low=8_500, high=14_700)
    best = explain_counter(display, counter)[0]
    assert (best.code, best.suggests) == (code, suggests)


def test_without_hours_a_meter_may_stand_still() -> None:
    assert explain_counter("944300", Counter(figures=6, before=944_300, low=0, high=14_700)) == ()


@given(before=st.integers(985_300, 999_999), counts=st.integers(8_500, 14_700))
def test_a_rollover_that_fits_is_never_refused(before: int, counts: int) -> None:
    """Check value unit.rollover: the difference of a rolled counter is modulo 10^digits."""
    counter = Counter(figures=6, before=before, low=8_500, high=14_700)
    display = f"{(before + counts) % 1_000_000:06d}"
    found = explain_counter(display, counter)
    assert not found or "meter-rolled" in [slip.code for slip in found]


def test_swaps_keep_the_point_and_leave_twins_alone() -> None:
    assert swapped("0.463") == ["4.063", "0.643", "0.436"]
    assert swapped("11") == []


@pytest.mark.parametrize(
    ("ratio", "power"), [(0.105, 0.1), (9.0, 10.0), (126.0, None), (1.1, None), (0.0011, 0.001)]
)
def test_ratios_near_powers_of_ten(ratio: float, power: float | None) -> None:
    assert near_power_of_ten(ratio) == power
