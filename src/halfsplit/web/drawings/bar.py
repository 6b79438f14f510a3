"""A suspicion as a bar."""

from markupsafe import Markup

from halfsplit.text import in_words, range_in_words
from halfsplit.web.drawings.hatching import Box, hatched
from halfsplit.web.drawings.markup import drawing, element, joined

WIDTH, HEIGHT = 200.0, 16.0
_RANGE_DENSITY = 4


def suspicion_bar(p: float, low: float, high: float) -> Markup:
    """Return a bar as long as a suspicion: solid up to the low end of its range, hatched up to the high one.

    Args:
        p: the suspicion; a stroke across the bar stands at it.
        low, high: where it goes when the book's numbers are moved within their spreads.

    Example:
        >>> "about 2 in 3, 1 in 3 to 4 in 5" in suspicion_bar(0.65, 0.35, 0.8)
        True
    """
    low, high = min(low, p), max(high, p)
    words = in_words(p) if in_words(low) == in_words(high) else f"{in_words(p)}, {range_in_words(low, high)}"
    ends = [1.0 + (WIDTH - 2.0) * min(max(end, 0.0), 1.0) for end in (low, p, high)]
    pieces = [element("rect", x=1, y=3, width=WIDTH - 2, height=HEIGHT - 6, class_="frame")]
    if ends[2] - ends[0] > 1:
        box = Box(ends[0], 3, ends[2] - ends[0], HEIGHT - 6)
        pieces.append(hatched(box, _RANGE_DENSITY))
        pieces.append(element("rect", x=box.x, y=box.y, width=box.w, height=box.h, class_="outline"))
    if ends[0] > 1:
        pieces.append(element("rect", x=1, y=3, width=ends[0] - 1, height=HEIGHT - 6, class_="solid"))
    pieces.append(element("line", x1=ends[1], y1=0, x2=ends[1], y2=HEIGHT, class_="stroke"))
    return drawing(words, WIDTH, HEIGHT, joined(*pieces), class_="suspicion-bar")
