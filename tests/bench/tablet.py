"""The goals of the tablet: saving, judging, starting, walking, touching."""

from tests.bench.figure import Figure
from tests.bench.judging import MANY, judging
from tests.bench.saving import saving
from tests.bench.starting import first_frame
from tests.bench.walking import live_walk

SAVES = 2000
TURNS = 50


def figures(full: bool) -> list[Figure]:
    """Measure everything; *full* looks at every target and text too."""
    from tests.bench.touching import touching

    return [
        *saving(SAVES),
        *judging(MANY, TURNS),
        *first_frame(5),
        *live_walk(300 if full else 100),
        *touching(full=full),
    ]
