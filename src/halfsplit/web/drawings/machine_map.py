"""The map of the machine: a drawn plan, hatched by suspicion."""

from collections.abc import Callable, Iterable, Mapping

from markupsafe import Markup

from halfsplit.job.amounts import counted
from halfsplit.job.lines import title_of
from halfsplit.job.units import OWNER, Gatherer, Pair, sitting
from halfsplit.job.weighed import PartSuspicion, by_p
from halfsplit.model.book import Book
from halfsplit.model.machine import Setup
from halfsplit.text import in_words
from halfsplit.web.drawings.blocks import TAG, Look, draw_block, draw_caption, draw_head, draw_leads, draw_node
from halfsplit.web.drawings.hatching import Box, density_of, hatched
from halfsplit.web.drawings.joints import lines_of_joints
from halfsplit.web.drawings.lettering import LINE, width_of
from halfsplit.web.drawings.markup import element, joined
from halfsplit.web.drawings.plan import SQUARE, Plan, plan_of

TITLE = "The machine"
_LEGEND = 50.0
_NAMED = 5  # parts and joints that the description names
_SWATCH = 18.0

SHELF, NEW, OTHER = "S", "N", "B"
"""Tags of what is not the owner's: of the shelf, new, of another host."""


def machine_map(
    book: Book,
    intake: Setup,
    now: Setup,
    parts: Iterable[PartSuspicion] | None = (),
    *,
    href: Callable[[str], str] | None = None,
) -> Markup:
    """Return the machine as a plan: its parts as blocks, its joints as lines, both hatched by suspicion.

    Args:
        book: the fault book, with its map; without one nothing is drawn.
        intake: the owner's setup before the first entry; what was in then and is out now is a ghost.
        now: the owner's setup now.
        parts: how far each part and joint is suspected; () = not worked out yet, None = nobody asks.
        href: from a slot ("memory.2") to where its block leads; None = blocks lead nowhere.

    Example:
        ``machine_map(book, course.intake["owner"], course.standing["owner"], weighed.parts, href=address_of)``
    """
    is_asked, parts = parts is not None, tuple(parts or ())
    suspicions = {each.id: each.p for each in parts}
    here = sitting(now)
    plan = plan_of((*intake.slots, *now.slots), book)
    if not plan.pieces:
        return Markup("")
    leads, nodes = [], []
    holders = [piece for piece in plan.pieces.values() if piece.is_holder]
    others = [piece for piece in plan.pieces.values() if not piece.is_holder]
    looks = {
        slot: _look(slot, intake.slots.get(slot, ""), here.get(slot, ""), suspicions, book) for slot in plan.pieces
    }
    if href is not None:
        looks = {slot: _leading(look, href(slot)) for slot, look in looks.items()}
    joints = Gatherer(book, book.joints).together(now).footholds
    for line in lines_of_joints([each for each in joints if isinstance(each, Pair)], plan, book):
        p = suspicions.get(line.pair.name)
        density = density_of(p)
        leads.append((line.points, density))
        nodes.append(draw_node(*line.points[0], density, _said(title_of(line.pair, book), p)))
    body = joined(
        *(draw_block(piece, looks[piece.slot]) for piece in holders),
        draw_leads(leads),
        *(draw_caption(*caption) for caption in plan.captions),
        *(draw_block(piece, looks[piece.slot]) for piece in others),
        *(draw_head(piece, looks[piece.slot]) for piece in holders),
        element("g", *nodes, class_="joints"),
    )
    legend = _legend(plan.height + SQUARE, looks, is_asked=is_asked)
    room = SQUARE + (_LEGEND if is_asked else _LEGEND / 2)
    return _whole(plan, joined(body, legend), room, _description(suspicions, looks, parts))


def _look(slot: str, was: str, unit: str, suspicions: dict[str, float], book: Book) -> Look:
    p = suspicions.get(unit or was)
    words = [_said(title_of(was or unit, book), p)]
    tag = ""
    if not unit:
        words.append("taken out")
    elif unit != was:
        whose = unit.partition(".")[0]
        tag = {"shelf": SHELF, "new": NEW, OWNER: ""}.get(whose, OTHER)
        words.append(f"now {title_of(unit, book)}" if was else f"put in: {title_of(unit, book)}")
    density = density_of(p)
    below = "out" if not unit else in_words(p).removeprefix("about ") if density and p is not None else ""
    return Look("; ".join(words), density, _short(below), tag, is_ghost=not unit)


def _leading(look: Look, href: str) -> Look:
    return Look(look.name, look.density, look.below, look.tag, look.is_ghost, look.is_heavy, href)


def _short(words: str) -> str:
    return {"almost certain": "nearly sure", "ruled out": ""}.get(words, words)


def _said(title: str, p: float | None) -> str:
    return title if p is None else f"{title}: {in_words(p)}"


def _description(suspicions: dict[str, float], looks: dict[str, Look], parts: Iterable[PartSuspicion]) -> str:
    named = [f"{each.title}: {in_words(each.p)}" for each in by_p(parts)[:_NAMED] if density_of(each.p)]
    gone = sum(look.is_ghost for look in looks.values())
    said = [f"A plan of {counted(len(looks), 'part')}, hatched more densely the more they are suspected of being bad."]
    if suspicions:
        said.append(f"Most suspected: {', '.join(named)}." if named else "Nothing stands out.")
    if gone:
        said.append(f"Taken out: {gone}.")
    return " ".join(said)


def _whole(plan: Plan, body: Markup, room: float, description: str) -> Markup:
    return element(
        "svg",
        element("title", TITLE),
        element("desc", description),
        body,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"{-SQUARE:g} {-SQUARE / 2:g} {plan.width + 2 * SQUARE:g} {plan.height + room:g}",
        class_="drawing machine-map",
        role="group",
        aria_label=TITLE,
    )


def _legend(top: float, looks: Mapping[str, Look], *, is_asked: bool) -> Markup:
    """Return what the marks mean: hatchings from hardly to surely bad where that is asked; tags and ghosts, if any."""
    drawn = []
    if is_asked:
        drawn.append(element("text", "bad: unlikely", x=0, y=top + 13, class_="caption"))
        x = width_of("bad: unlikely") + 8
        for density in range(1, 6):
            box = Box(x, top, _SWATCH, _SWATCH)
            drawn.append(hatched(box, density))
            drawn.append(element("rect", x=x, y=top, width=_SWATCH, height=_SWATCH, class_="outline"))
            x += _SWATCH + 4
        drawn.append(element("text", "likely", x=x + 2, y=top + 13, class_="caption"))
    x, y = 0.0, top + (_SWATCH + 6 if is_asked else 0)
    tags = {look.tag for look in looks.values()}
    for letter, words in ((SHELF, "shelf"), (NEW, "new"), (OTHER, "another machine's")):
        if letter in tags:
            drawn.append(element("rect", x=x, y=y, width=TAG, height=TAG, class_="tag"))
            middle = x + TAG / 2
            drawn.append(element("text", letter, x=middle, y=y + TAG - 3, text_anchor="middle", class_="tag-letter"))
            drawn.append(element("text", words, x=x + TAG + 4, y=y + LINE - 2, class_="caption"))
            x += TAG + width_of(words) + 12
    if any(look.is_ghost for look in looks.values()):
        drawn.append(element("rect", x=x, y=y, width=24, height=TAG, class_="outline ghost-line"))
        drawn.append(element("text", "out", x=x + 28, y=y + LINE - 2, class_="caption"))
    return element("g", *drawn, class_="legend", aria_hidden="true") if drawn else Markup()
