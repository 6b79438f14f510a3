"""One part of the plan, drawn: outline, hatching, label, and a tag that says whose it is."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from markupsafe import Markup

from halfsplit.web.drawings.hatching import Box, hatched
from halfsplit.web.drawings.lettering import lettered, width_of
from halfsplit.web.drawings.markup import element, joined
from halfsplit.web.drawings.plan import Piece

TAG = 14.0
"""Width and height of a tag, in units."""

NODE, BARE_NODE = 12.0, 5.0
"""Width of the mark of a joint, in units: of one that is suspected, and of one that is not."""


@dataclass(frozen=True)
class Look:
    """How one part is drawn.

    Args:
        name: what it is and all that its marks say, in words: for those who do not see it.
        density: of its hatching, 0 to 5.
        below: a line under its label.
        tag: one letter or sign in its corner, or "".
        is_ghost: whether it is drawn as one that is not there.
        is_heavy: whether its outline is heavy.
        href: where it leads, or "".
    """

    name: str
    density: int = 0
    below: str = ""
    tag: str = ""
    is_ghost: bool = False
    is_heavy: bool = False
    href: str = ""


def draw_block(piece: Piece, look: Look) -> Markup:
    """Return one part of the plan."""
    box, face = piece.box, piece.face
    said = _spoken(piece, look) if look.href else look.name
    classes = ["drawn-part", *(["ghost"] if look.is_ghost else []), *(["heavy"] if look.is_heavy else [])]
    edges = {"x": box.x, "y": box.y, "width": box.w, "height": box.h}
    drawn = [element("title", said)]
    if look.density:
        drawn += [element("rect", **edges, class_="ground"), hatched(face, look.density)]
        drawn.append(element("rect", **edges, class_="outline"))
    else:
        drawn.append(element("rect", **edges, class_="outline blank"))
    if not piece.is_holder:
        drawn.append(lettered(face, piece.label, look.below, is_bare=not look.density))
    if look.tag:
        x, y = box.right - TAG, box.y - (0 if piece.is_one_of_several else TAG / 2)
        drawn.append(element("rect", x=x, y=y, width=TAG, height=TAG, class_="tag"))
        drawn.append(element("text", look.tag, x=x + TAG / 2, y=y + TAG - 3, text_anchor="middle", class_="tag-letter"))
    if look.href:
        return element("a", *drawn, href=look.href, class_=" ".join(classes), aria_label=said)
    return element("g", *drawn, class_=" ".join(classes), role="img", aria_label=said)


def _spoken(piece: Piece, look: Look) -> str:
    """Return a part's name with all that is read on it, so that it can be called by that (WCAG 2.2, 2.5.3)."""
    shown = " ".join(each for each in ("" if piece.is_holder else piece.label, look.below, look.tag) if each)
    return look.name if re.search(rf"\b{re.escape(shown)}\b", look.name) else f"{shown}: {look.name}"


def draw_node(x: float, y: float, density: int, name: str) -> Markup:
    """Return the mark of a joint, with its middle where it lies."""
    side = NODE if density else BARE_NODE
    box = Box(x - side / 2, y - side / 2, side, side)
    edges = {"x": box.x, "y": box.y, "width": side, "height": side}
    if not density:
        return element("rect", element("title", name), **edges, class_="joint solid")
    return element(
        "g",
        element("title", name),
        element("rect", **edges, class_="ground"),
        hatched(box, density),
        element("rect", **edges, class_="outline"),
        class_="joint suspected",
        role="img",
        aria_label=name,
    )


def draw_leads(lines: Iterable[tuple[Iterable[tuple[float, float]], int]]) -> Markup:
    """Return the lines of joints, all of one density as one; they are not read out.

    Args:
        lines: of each the points that it goes through, and how densely its joint is hatched.
    """
    drawn: dict[int, list[str]] = {}
    for points, density in lines:
        drawn.setdefault(density, []).append("M" + "L".join(f"{round(x, 1):g} {round(y, 1):g}" for x, y in points))
    paths = (element("path", d="".join(drawn[n]), class_=f"lead lead-{n}") for n in sorted(drawn))
    return element("g", *paths, class_="leads", aria_hidden="true")


def draw_caption(label: str, box: Box) -> Markup:
    """Return what several of one kind are called together."""
    return joined(
        element("rect", x=box.x, y=box.y, width=width_of(label) + 2, height=box.h, class_="plate"),
        element("text", label, x=box.x, y=box.bottom - 2, class_="caption"),
    )


def draw_head(piece: Piece, look: Look) -> Markup:
    """Return the label of a part that others are drawn on: it goes over the lines that come in there."""
    said = f"{piece.label}: {look.below}" if look.below else piece.label
    box = Box(piece.face.x + 4, piece.face.y, width_of(said) + 20, piece.face.h)
    return element("g", lettered(box, said), class_="head", aria_hidden="true")
