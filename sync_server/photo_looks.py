"""How a photo looks to a machine: how bright it is, and whether anything in it is sharp.

It is a hint for the coordinator's list, never a verdict: fog, and water under an even sky, are
blurred and bright too.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from PIL import Image, UnidentifiedImageError

from shared_core.errors import UnreadableError
from shared_core.records.base import Finding, Severity

LONG_SIDE: Final = 512  # pixels looked at: a phone's picture loses its grain, and keeps its edges
WHITE: Final = 255.0
SHARPEST_PCT: Final = 99.5  # the few sharpest places of a picture tell whether it was in focus
DARK: Final = 0.06  # of white, on average (from memory)
BRIGHT: Final = 0.96  # from memory
BLURRED: Final = 9.0  # of 255 between neighbours (computed on drawn scenes, sharp and blurred)


@dataclass(frozen=True, kw_only=True)
class Looks:
    """Mean brightness (share of white) and the contrast of the sharpest edges (0 to 255)."""

    brightness: float
    sharpness: float


def looks_of(path: Path) -> Looks:
    """Return how a picture looks.

    Raises:
        UnreadableError: if it cannot be decoded.
    """
    try:
        with Image.open(path) as picture:
            grey = picture.convert("L")
            grey.thumbnail((LONG_SIDE, LONG_SIDE))
            pixels = np.asarray(grey, dtype=np.float64)
    except (UnidentifiedImageError, OSError, Image.DecompressionBombError) as error:
        raise UnreadableError(f"the picture cannot be decoded: {error}") from error
    edges = [np.abs(np.diff(pixels, axis=axis)).ravel() for axis in (0, 1)]
    every = np.concatenate(edges)
    sharpness = float(np.percentile(every, SHARPEST_PCT)) if every.size else 0.0
    return Looks(brightness=float(pixels.mean()) / WHITE, sharpness=sharpness)


def photo_findings(looks: Looks, limits: Mapping[str, float]) -> Iterator[Finding]:
    """Ask about a picture that is nearly black, nearly white, or nowhere sharp."""
    if looks.brightness < limits.get("photo-dark", DARK):
        yield _asks("photo-dark", f"The picture is nearly black ({looks.brightness:.0%} of white).")
    elif looks.brightness > limits.get("photo-bright", BRIGHT):
        yield _asks("photo-bright", f"The picture is nearly white ({looks.brightness:.0%}).")
    elif looks.sharpness < limits.get("photo-blurred", BLURRED):
        yield _asks("photo-blurred", "Nothing in the picture is sharp.")


def _asks(code: str, saw: str) -> Finding:
    return Finding(
        code=code,
        severity=Severity.ASK,
        field="sha256",
        saw=saw,
        expected="A repeat photograph shows its fixed feature sharp and lit.",
        do="Look at it; where it is of no use, ask for another on the next visit.",
    )
