"""Measures of what is on the screen: is it large enough to touch, apart, and is its text whole?"""

from collections.abc import Iterator
from typing import Any

from mobile.look import SMALLEST_TARGET_DP
from tests.mobile.pilot import Pilot


def touchable(driver: Pilot) -> Iterator[Any]:
    """Yield everything on the screen that a finger may touch."""
    for widget in driver.walk():
        kinds = {kind.__name__ for kind in type(widget).__mro__}
        shown = widget.opacity > 0 and not widget.disabled and widget.parent is not None
        if shown and kinds & {"ButtonBehavior", "TextInput"}:
            yield widget


def too_small(driver: Pilot) -> Any:
    """Return what is too small to touch, with its size."""
    return [
        (widget.test_id or widget.text, tuple(widget.size))
        for widget in touchable(driver)
        if min(widget.size) < SMALLEST_TARGET_DP
    ]


def on_top_of_another(driver: Pilot) -> Any:
    """Return pairs that lie over each other, lists that scroll left out."""
    keys = [widget for widget in touchable(driver) if not driver._scroll_over(widget)]
    boxes = [(w, *w.to_window(*w.pos), *w.to_window(w.right, w.top)) for w in keys]
    return [
        (one.test_id or one.text, other.test_id or other.text)
        for place, (one, left, foot, right, head) in enumerate(boxes)
        for other, x, y, far, top in boxes[place + 1 :]
        if right > x + 1 and far > left + 1 and head > y + 1 and top > foot + 1
    ]


def _needed(label: Any) -> Any:
    """Return the size that a label's text wants at the width it has."""
    from kivy.core.text import Label as Lettering
    from kivy.core.text.markup import MarkupLabel

    make = MarkupLabel if label.markup else Lettering
    left, _, right, _ = label.padding
    width = None if label.text_size[0] is None else label.text_size[0] - left - right
    found = make(
        text=label.text,
        font_size=label.font_size,
        bold=label.bold,
        line_height=label.line_height,
        text_size=(width, None),
    )
    found.refresh()
    return found.texture.size


def _longest_word(label: Any) -> Any:
    """Return the width of the widest word: one that is broken inside cannot be read."""
    from kivy.core.text import Label as Lettering

    lettering = Lettering(font_size=label.font_size, bold=label.bold)
    return max(lettering.get_extents(word)[0] for word in label.text.split())


def _seen(widget: Any) -> bool:
    """Tell whether nothing above a widget, nor itself, is see-through."""
    while widget is not None and widget.parent is not widget:
        if not widget.opacity:
            return False
        widget = widget.parent
    return True


def cut_text(driver: Pilot) -> Any:
    """Return the texts that do not fit, with what they need and what they have."""
    found = []
    for label in driver.walk():
        shown = hasattr(label, "texture_size") and hasattr(label, "text") and label.text
        if not (shown and _seen(label)):
            continue
        left, bottom, right, top = label.padding
        width, height = _needed(label)
        if height > label.height - bottom - top + 2 and not label.shorten:
            found.append((label.text, "height", height, label.height))
        if label.text_size[0] is None and width > label.width + 1:
            found.append((label.text, "width", width, label.width))
        if not label.markup and _longest_word(label) > label.width - left - right + 1:
            found.append((label.text, "word", _longest_word(label), label.width))
    return found


def off_the_window(driver: Pilot) -> Any:
    """Return texts that nobody can see although no list scrolls to them."""
    width, height = driver.window.size
    found = []
    for label in driver.walk():
        shown = hasattr(label, "texture_size") and hasattr(label, "text") and _seen(label)
        if shown and label.text and not driver._scroll_over(label):
            x, y = label.to_window(*label.center)
            if not (0 <= x <= width and 0 <= y <= height):
                found.append(label.text)
    return found


def out_of_place(driver: Pilot) -> Any:
    """Return what is wrong with the number on the waterline of a gauge, if one is shown."""
    face = driver.app.root.current_screen.face
    if "staff" not in face.ids:
        return []
    ids = face.ids
    wrong = {
        "over the plate": ids.figures.x < ids.staff.right,
        "out of the window": ids.unit.right > driver.window.width,
        # the upper fifth of a figure's height is empty in Kivy's Roboto
        "under the title": ids.figures.text
        and ids.figures.top - ids.figures.height * 0.2 > ids.bar.y + 1,
        "no room for the plate": ids.staff.height < 90,
    }
    return [words for words, holds in wrong.items() if holds]


MEASURES = {
    measure.__name__: measure
    for measure in (too_small, on_top_of_another, cut_text, off_the_window, out_of_place)
}
