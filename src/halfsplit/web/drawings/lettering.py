"""Letters on a drawing: how wide they are about, and how a label is broken into lines."""

from markupsafe import Markup

from halfsplit.web.drawings.hatching import Box
from halfsplit.web.drawings.markup import element, joined

LETTER = 11.0
"""Height of the letters of a label, in units."""

LINE = 13.0
"""From line to line, in units."""

_NARROW, _WIDE, _USUAL = "iljtfr.,:' -()1", "mwMW", 0.58
_MARGIN = 3.0


def width_of(text: str, letter: float = LETTER) -> float:
    """Return about how wide a text is in a plain sans-serif type, in units; rather too wide than too narrow."""
    return letter * sum(0.34 if c in _NARROW else 0.88 if c in _WIDE else 0.72 if c.isupper() else _USUAL for c in text)


def lines_of(text: str, width: float) -> tuple[str, ...]:
    """Return a label in lines of at most a width, broken between words only."""
    lines: list[str] = []
    for word in text.split():
        if lines and width_of(f"{lines[-1]} {word}") <= width:
            lines[-1] = f"{lines[-1]} {word}"
        else:
            lines.append(word)
    return tuple(lines)


def lettered(box: Box, label: str, below: str = "", *, is_bare: bool = False) -> Markup:
    """Return a label in the middle of a rectangle, with smaller lines below, on plates that keep hatching away.

    Args:
        box: the rectangle.
        label: the label.
        below: more words, or "".
        is_bare: whether nothing is drawn under it, so that it needs no plates.
    """
    lines = [(line, "label") for line in lines_of(label, box.w - 2 * _MARGIN)]
    lines += [(line, "words") for line in lines_of(below, box.w - _MARGIN)]
    top = box.y + (box.h - LINE * len(lines)) / 2
    middle = box.x + box.w / 2
    drawn = []
    for number, (line, kind) in enumerate(lines):
        width = min(width_of(line) + 4, box.w - 2)
        y = top + number * LINE
        if not is_bare:
            drawn.append(element("rect", x=middle - width / 2, y=y, width=width, height=LINE, class_="plate"))
        letters = element("text", line, x=middle, y=y + LINE - 3, text_anchor="middle", class_=kind)
        drawn.append(joined(letters, " "))  # words of two lines are two words
    return joined(*drawn)
