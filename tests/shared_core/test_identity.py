"""Names of entries and records: UUID version 7."""

import uuid

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_core.identity import uuid7


def test_the_published_example_comes_out() -> None:
    # check id uuid7: RFC 9562 (2024) appendix A.6
    name = uuid7(1645557742000, 0xCC3 << 62 | 0x18C4DC0C0C07398F)
    assert name == "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"


@given(st.integers(0, 2**48 - 1), st.integers(0, 2**74 - 1))
def test_every_name_is_a_version_7_that_holds_its_time(unix_ms: int, random_bits: int) -> None:
    name = uuid.UUID(uuid7(unix_ms, random_bits))
    assert (name.version, name.variant) == (7, uuid.RFC_4122)
    assert name.int >> 80 == unix_ms


@given(st.integers(0, 2**48 - 2), st.integers(0, 2**74 - 1), st.integers(0, 2**74 - 1))
def test_a_later_name_sorts_later(unix_ms: int, one: int, other: int) -> None:
    assert uuid7(unix_ms, one) < uuid7(unix_ms + 1, other)


@given(st.integers(0, 2**74 - 1), st.integers(0, 2**74 - 1))
def test_other_random_bits_make_another_name(one: int, other: int) -> None:
    assert (uuid7(0, one) == uuid7(0, other)) == (one == other)


@pytest.mark.parametrize("unix_ms", [-1, 2**48])
def test_a_time_of_more_than_48_bits_is_a_mistake(unix_ms: int) -> None:
    with pytest.raises(ValueError, match="48 bits"):
        uuid7(unix_ms, 0)
