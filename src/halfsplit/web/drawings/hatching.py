"""Hatching: five densities, and a tone with each; lines are drawn one by one, so that any printer draws them."""

from dataclasses import dataclass

from markupsafe import Markup

from halfsplit.web.drawings.markup import element, joined

LEAST_P = (0.02, 0.1, 0.25, 0.5, 0.8)
"""From each of these on, a suspicion is hatched more densely."""

SPACING = (16.0, 10.0, 7.0, 5.0, 6.0)
"""Units between two lines, for each density; the last one has lines both ways."""

BOTH_WAYS = 5
"""The density from which lines cross."""


@dataclass(frozen=True)
class Box:
    """A rectangle of a drawing, in units."""

    x: float
    y: float
    w: float
    h: float

    @property
    def right(self) -> float:
        """Its right edge."""
        return self.x + self.w

    @property
    def bottom(self) -> float:
        """Its lower edge."""
        return self.y + self.h


def density_of(p: float | None) -> int:
    """Return how densely a suspicion is hatched: 0 (not at all) to 5.

    Example:
        >>> [density_of(p) for p in (None, 0.01, 0.05, 0.2, 0.3, 0.6, 0.9)]
        [0, 0, 1, 2, 3, 4, 5]
    """
    return 0 if p is None else sum(p >= least for least in LEAST_P)


def hatched(box: Box, density: int) -> Markup:
    """Return the hatching of a rectangle, or nothing for density 0.

    Args:
        box: the rectangle.
        density: 0 to 5.
    """
    if not density:
        return Markup("")
    spacing = SPACING[density - 1]
    lines = _rising(box, spacing)
    if density >= BOTH_WAYS:
        lines += _falling(box, spacing)
    return joined(
        element("rect", x=box.x, y=box.y, width=box.w, height=box.h, class_=f"tone tone-{density}"),
        element("path", d="".join(lines), class_=f"hatch hatch-{density}"),
    )


def _rising(box: Box, spacing: float) -> list[str]:
    """Return lines at 45 degrees, cut off at the edges; they go through the same points all over the drawing."""
    lines = []
    first = int((box.x + box.y) // spacing) + 1
    last = int((box.right + box.bottom) // spacing)
    for number in range(first, last + 1):
        total = number * spacing  # x + y is the same along a line
        start = max(box.x, total - box.bottom)
        end = min(box.right, total - box.y)
        if end > start:
            lines.append(f"M{start:.4g} {total - start:.4g}L{end:.4g} {total - end:.4g}")
    return lines


def _falling(box: Box, spacing: float) -> list[str]:
    lines = []
    first = int((box.x - box.bottom) // spacing) + 1
    last = int((box.right - box.y) // spacing)
    for number in range(first, last + 1):
        total = number * spacing  # x - y is the same along a line
        start = max(box.x, total + box.y)
        end = min(box.right, total + box.bottom)
        if end > start:
            lines.append(f"M{start:.4g} {start - total:.4g}L{end:.4g} {end - total:.4g}")
    return lines
