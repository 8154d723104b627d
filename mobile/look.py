"""Colours and sizes of every screen; plain data, no Kivy.

DAY is for full sun, DUSK for before dawn. Every pair of tokens that carries text has a contrast
of at least 7:1 (WCAG 2.2, success criterion 1.4.6), shapes that carry meaning at least 3:1 (1.4.11).
Colour never speaks alone: each mood has its own sign and its own words.
"""

from typing import Final

WIDE_FROM_DP: Final = 900  # below it, a screen is laid out tall
SMALLEST_TARGET_DP: Final = 64  # 10 mm, with room for a glove
TEXT_SCALES: Final = (0.9, 1.0, 1.1, 1.25)

DAY: Final = {
    "ground": "#F4F1E8",  # silt: the page
    "card": "#FFFFFF",
    "ink": "#0E1C19",
    "ink2": "#37463F",
    "rule": "#6F7C74",  # borders and ticks
    "hair": "#D5D2C4",  # lines without meaning
    "ghost": "#BFBDB0",  # places for figures still to come; carries nothing to read
    "key": "#FFFFFF",
    "key_edge": "#A9ABA0",
    "key_down": "#0E1C19",
    "key_down_ink": "#FFFFFF",
    "key_off": "#E4E1D4",
    "river": "#063E55",  # the main action
    "river_edge": "#021F2C",
    "river_ink": "#FFFFFF",
    "shallow": "#CDE4EA",
    "mid": "#5E9DB3",  # body of water
    "reed": "#1D4A22",  # fits
    "reed_wash": "#DDEBD5",
    "clay": "#6A3A00",  # look again
    "clay_wash": "#FFE3A6",
    "clay_edge": "#331C00",
    "rust": "#821A14",  # cannot be
    "rust_wash": "#FBD9D2",
    "plate": "#FFFFFF",  # the drawn staff, white by day, dimmed at dusk
    "plate_ink": "#0E1C19",
    "notch": "#6A3A00",
    "bar": "#0E2A2B",
    "bar_ink": "#FFFFFF",
    "bar_ink2": "#C4D9D6",
}
DUSK: Final = {
    "ground": "#0B1412",
    "card": "#14211E",
    "ink": "#F3F5EE",
    "ink2": "#B9C7BF",
    "rule": "#7D8E86",
    "hair": "#2A3A35",
    "ghost": "#45564F",
    "key": "#20302C",
    "key_edge": "#060C0A",
    "key_down": "#F3F5EE",
    "key_down_ink": "#0B1412",
    "key_off": "#1A2724",
    "river": "#8FD0E6",
    "river_edge": "#4C8BA0",
    "river_ink": "#05212C",
    "shallow": "#12333E",
    "mid": "#2D7189",
    "reed": "#A9DE9C",
    "reed_wash": "#17331A",
    "clay": "#FFCB6B",
    "clay_wash": "#3A2806",
    "clay_edge": "#A87A22",
    "rust": "#FFB0A4",
    "rust_wash": "#44130E",
    "plate": "#E9EEE4",
    "plate_ink": "#0E1C19",
    "notch": "#6A3A00",
    "bar": "#06100F",
    "bar_ink": "#FFFFFF",
    "bar_ink2": "#A9C0BC",
}
TEXT_PAIRS: Final = (
    ("ink", "ground"),
    ("ink", "card"),
    ("ink", "key"),
    ("ink", "shallow"),
    ("ink", "reed_wash"),
    ("ink", "clay_wash"),
    ("ink", "rust_wash"),
    ("ink2", "ground"),
    ("ink2", "card"),
    ("ink2", "key"),
    ("ink2", "key_off"),
    ("ink2", "shallow"),
    ("key_down_ink", "key_down"),
    ("river_ink", "river"),
    ("reed", "reed_wash"),
    ("reed", "card"),
    ("clay", "clay_wash"),
    ("clay", "card"),
    ("clay_wash", "clay"),
    ("rust", "rust_wash"),
    ("rust", "card"),
    ("plate_ink", "plate"),
    ("bar_ink", "bar"),
    ("bar_ink2", "bar"),
    ("bar", "bar_ink2"),
)
SHAPE_PAIRS: Final = (
    ("rule", "ground"),
    ("rule", "card"),
    ("river", "ground"),
    ("river", "shallow"),
    ("mid", "card"),
    ("notch", "plate"),
)


def luminance(colour: str) -> float:
    """Return the relative luminance of an sRGB colour (WCAG 2.2, definition of that term)."""
    shares = (int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5))
    linear = [
        share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in shares
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21 (WCAG 2.2, definition of that term)."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)
