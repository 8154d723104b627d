from collections.abc import Iterator

import pytest

from tests.shared_core.records.swamp import Swamp


@pytest.fixture
def swamp() -> Iterator[Swamp]:
    """The invented swamp, set up and with nothing observed yet."""
    made = Swamp()
    made.set_up()
    yield made
    made.logbook.close()
