"""How all figures look: colours, letters, and the sheet they are drawn on.

Matplotlib keeps its settings in one place for the whole process, so one figure is drawn at a time.
"""

import contextlib
import io
import threading
from collections.abc import Iterator, Sequence
from typing import Any, Final

import matplotlib as mpl
from matplotlib import font_manager
from matplotlib.figure import Figure
from matplotlib.patches import Patch

GROUND: Final = "#FFFFFF"
INK: Final = "#0E1C19"
RULE: Final = "#6F7C74"
HAIR: Final = "#D5D2C4"
RIVER: Final = "#063E55"
SHALLOW: Final = "#5E9DB3"
SAND: Final = "#E7C9A0"
REED: Final = "#1D4A22"
CLAY: Final = "#6A3A00"
RUST: Final = "#821A14"
WIDTH_IN: Final = 9.6  # of every figure, so that letters are of one size
PLACES: Final = 4  # decimals of a figure's width and height; finer than a hair
FACE: Final = "DejaVu Sans"  # comes with matplotlib; a viewer without it uses a narrower one
SETTINGS: Final[dict[Any, Any]] = {
    "font.family": "sans-serif",
    "font.sans-serif": [FACE, "Verdana"],
    "font.size": 10.0,
    "text.color": INK,
    "text.parse_math": False,  # a dollar sign in a name is a dollar sign
    "axes.edgecolor": RULE,
    "axes.labelcolor": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": HAIR,
    "grid.linewidth": 0.6,
    "xtick.color": INK,
    "ytick.color": INK,
    "hatch.linewidth": 0.8,
    "legend.frameon": False,
    "svg.fonttype": "none",
    "svg.hashsalt": "strandline",
}
_ONE_AT_A_TIME: Final = threading.Lock()


@contextlib.contextmanager
def sheet(height_in: float) -> Iterator[Figure]:
    """Yield an empty figure to draw on; nobody else draws until it is done."""
    with _ONE_AT_A_TIME, mpl.rc_context(SETTINGS):
        yield Figure(figsize=(WIDTH_IN, height_in), facecolor=GROUND, layout="constrained")


def svg_of(figure: Figure, title: str) -> str:
    """Return a figure's SVG element, without date, version or document head."""
    _settle(figure)
    drawn = io.StringIO()
    about = {"Date": None, "Creator": None, "Title": title}
    figure.savefig(drawn, format="svg", metadata=about)
    text = drawn.getvalue()
    return text[text.index("<svg") :]


def _settle(figure: Figure) -> None:
    """Fix the axes where the layout put them: its last digits differ from run to run, and show."""
    figure.draw_without_rendering()
    figure.set_layout_engine("none")
    for axes in figure.axes:
        left, bottom, width, height = axes.get_position().bounds
        axes.set_position(
            (
                round(left, PLACES),
                round(bottom, PLACES),
                round(width, PLACES),
                round(height, PLACES),
            )
        )


def filled(colour: str, hatch: str = "") -> dict[str, Any]:
    """Return the look of a bar with its whisker."""
    return {
        "facecolor": colour,
        "edgecolor": INK,
        "linewidth": 0.5,
        "hatch": hatch or None,
        "error_kw": {"elinewidth": 1.1, "capsize": 2.5, "ecolor": INK},
    }


def swatch(colour: str, hatch: str = "") -> Patch:
    """Return a bar's look for the legend."""
    return Patch(facecolor=colour, edgecolor=INK, linewidth=0.5, hatch=hatch or None)


def legend_below(
    figure: Figure, handles: Sequence[Any], labels: Sequence[str], *, in_a_row: int
) -> None:
    """Put a legend under the figure."""
    if handles:
        figure.legend(
            list(handles), list(labels), loc="outside lower center", ncols=in_a_row, fontsize=9.5
        )


def drawable(words: str) -> str:
    """Return words with a box in place of each letter that the face cannot draw."""
    face = font_manager.get_font(font_manager.findfont(FACE))
    return "".join(letter if face.get_char_index(ord(letter)) else "\u25a1" for letter in words)
