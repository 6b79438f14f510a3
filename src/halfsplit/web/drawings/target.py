"""The setup that the next check wants, beside the setup now: make it look like this."""

from markupsafe import Markup

from halfsplit.job.amounts import counted
from halfsplit.job.lines import title_of
from halfsplit.job.setups import RIDES_ON
from halfsplit.job.units import Gatherer, Pair, kind_of, sitting
from halfsplit.model.book import Book
from halfsplit.model.machine import Setup
from halfsplit.web.drawings.blocks import Look, draw_block, draw_caption, draw_head, draw_leads
from halfsplit.web.drawings.joints import lines_of_joints
from halfsplit.web.drawings.markup import element, joined
from halfsplit.web.drawings.plan import SQUARE, Plan, plan_of

PUT_IN, TAKE_OUT, CHANGE = "+", "−", "↔"  # noqa: RUF001 - the minus sign is as wide as the plus
"""Tags of parts that differ: put in, take out, change for another one."""

WANTED, NOW = "As it should be", "As it is now"


def target_setup(book: Book, now: Setup, wanted: Setup) -> Markup:
    """Return the setup wanted beside the setup now, with the parts that differ marked and listed in words.

    Args:
        book: the fault book, for its map and titles.
        now, wanted: two setups of one host: ``setup_wanted(check, course, book)``.

    Returns:
        What is to be done as a list, the plan wanted, and folded away the plan now; nothing where nothing differs.

    Example:
        ``target_setup(book, *setup_wanted(book.checks["minimum_parts"], view.course, book))``
    """
    steps = _steps(book, now, wanted)
    if not steps:
        return Markup("")
    listed = element("ul", *(element("li", step) for step in steps))
    plan = plan_of((*now.slots, *wanted.slots), book)
    if not plan.pieces:
        return element("div", listed, class_="drawn-target")
    after = element(
        "details",
        element("summary", WANTED),
        _drawn(book, plan, wanted, now, WANTED, is_wanted=True),
        open="",
        data_fold="",
    )
    before = element("details", element("summary", NOW), _drawn(book, plan, now, wanted, NOW, is_wanted=False))
    return element("div", element("div", listed, before), after, class_="drawn-target")


def _steps(book: Book, now: Setup, wanted: Setup) -> list[str]:
    """Return what is to be done, in words."""
    steps = []
    for slot, (was, unit) in _differing(now, wanted).items():
        if kind_of(slot) in RIDES_ON:
            continue
        if not unit:
            steps.append(f"{TAKE_OUT} take out: {title_of(was, book)}")
        elif not was:
            steps.append(f"{PUT_IN} put in: {title_of(unit, book)}")
        else:
            steps.append(f"{CHANGE} change: {title_of(was, book)} for {title_of(unit, book)}")
    if now.in_case and not wanted.in_case:
        steps.append(f"{TAKE_OUT} take the board out of its case")
    elif wanted.in_case and not now.in_case:
        steps.append(f"{PUT_IN} put the board into its case")
    if wanted.output and wanted.output != now.output and wanted.output in book.outputs:
        steps.append(f"{CHANGE} monitor on: {book.outputs[wanted.output].title}")
    return steps


def _differing(now: Setup, wanted: Setup) -> dict[str, tuple[str, str]]:
    """Return slot -> unit now and unit wanted, where they differ."""
    slots = dict.fromkeys((*now.slots, *wanted.slots))
    pairs = {slot: (now.slots.get(slot, ""), wanted.slots.get(slot, "")) for slot in slots}
    return {slot: pair for slot, pair in pairs.items() if pair[0] != pair[1]}


def _drawn(book: Book, plan: Plan, setup: Setup, other: Setup, heading: str, *, is_wanted: bool) -> Markup:
    here, there = sitting(setup), sitting(other)
    looks = {slot: _look(book, here.get(slot, ""), there.get(slot, ""), is_wanted=is_wanted) for slot in plan.pieces}
    pairs = [each for each in Gatherer(book, book.joints).together(setup).footholds if isinstance(each, Pair)]
    leads = draw_leads((line.points, 0) for line in lines_of_joints(pairs, plan, book))
    pieces = plan.pieces.values()
    body = joined(
        *(draw_block(piece, looks[piece.slot]) for piece in pieces if piece.is_holder),
        leads,
        *(draw_caption(*caption) for caption in plan.captions),
        *(draw_block(piece, looks[piece.slot]) for piece in pieces if not piece.is_holder),
        *(draw_head(piece, looks[piece.slot]) for piece in pieces if piece.is_holder),
    )
    heavy = sum(look.is_heavy for look in looks.values())
    return element(
        "svg",
        element("title", heading),
        element("desc", f"A plan of what is in, {counted(len(here), 'part')}; otherwise than now: {heavy}."),
        body,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"{-SQUARE:g} {-SQUARE / 2:g} {plan.width + 2 * SQUARE:g} {plan.height + SQUARE:g}",
        class_="drawing target-plan",
        role="group",
        aria_label=heading,
    )


def _look(book: Book, unit: str, other: str, *, is_wanted: bool) -> Look:
    title = title_of(unit or other, book)
    name = title if unit else f"{title}: out"
    if unit == other:
        return Look(name, is_ghost=not unit)
    tag = (PUT_IN if not other else TAKE_OUT if not unit else CHANGE) if is_wanted else ""
    below = "put in" if is_wanted and not other else "out" if not unit else "other one" if is_wanted and other else ""
    return Look(f"{name}; differs", below=below, tag=tag, is_ghost=not unit, is_heavy=True)
