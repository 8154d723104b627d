"""What is not known of a receiver's error widens the uncertainty of a walk's area."""

import math

import pytest

from shared_core import track
from tests.shared_core.test_track import circle, walked


def test_what_is_not_known_of_the_receiver_is_averaged_into_the_area_uncertainty() -> None:
    fixes = walked(circle(2175))
    seconds = [60.0 * 3.0 ** (k / 50) for k in range(-50, 51)]  # each as likely by its logarithm
    variance = sum(track.area_sd_m2(fixes, 3.0, constant_s) ** 2 for constant_s in seconds) / 101
    unsure = track.measure_walk(fixes, sd_m=3.0)
    assert unsure.area_sd_m2 == pytest.approx(math.sqrt(variance), rel=0.05)
    # A normal logarithm of spread 0.3 has a mean square of exp(2 x 0.09).
    assert track.measure_walk(fixes).area_sd_m2 == pytest.approx(
        unsure.area_sd_m2 * math.exp(0.09), rel=1e-9
    )


def test_a_receiver_that_is_poor_throughout_keeps_its_walk_and_states_its_error() -> None:
    fixes = walked(circle(2175), accuracy_m=22.0)
    kept, dropped = track.clean(fixes)
    assert (len(kept), dropped) == (len(fixes), ())
    poor, good = track.measure_walk(fixes), track.measure_walk(walked(circle(2175), accuracy_m=4.0))
    assert poor.area_m2 == pytest.approx(good.area_m2, rel=1e-9)
    assert poor.area_sd_m2 == pytest.approx(good.area_sd_m2 * 22 / 4, rel=0.02)


def test_a_few_poor_fixes_are_still_left_out() -> None:
    fixes = walked(circle(600), accuracy_m=4.0)
    fixes[5:15] = walked(circle(600), accuracy_m=22.0)[5:15]
    assert {drop.reason for drop in track.clean(fixes)[1]} == {track.Reason.ACCURACY}
    assert len(track.clean(fixes)[1]) == 10
