"""What to do next on a terminal: one card, what to stop at, and what else could be done."""

from collections.abc import Iterable

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text
from rich.tree import Tree

from halfsplit.job.advised import CHECK, END, Advice, Proposal, StopPoint
from halfsplit.job.ahead import Step
from halfsplit.model.book import Book
from halfsplit.text import in_words, money_in_words, named, reasons_of, title_of

OTHERS = 8
"""Other proposals that are listed."""

RESULTS = 6
"""Results of a check that are listed."""

TO_GO = "To go: hands, parts, waiting and risk, as expected from here until the machine is proven or handed back."
"""What is meant by what there is to go."""

_ACCENT = "blue"


def print_advice(advice: Advice, book: Book, console: Console, currency: str) -> None:
    """Print what to do next on a job; every sum has its currency, as in ISO 4217."""
    for heading, body in _chapters(advice, book, currency):
        console.print()
        console.print(Text(f"{heading} ", style="bold").append("─" * (console.width - len(heading) - 1), "dim"))
        console.print(Padding(body, (0, 0, 0, 2)))


def print_steps(top: Step, console: Console, currency: str) -> None:
    """Print the way ahead of a job as a tree; every sum has its currency, as in ISO 4217."""
    console.print(_grown(top, currency))
    console.print(Text("Chances are from the top; sums are what is still to be paid on average from there.", "dim"))


def _chapters(advice: Advice, book: Book, currency: str) -> Iterable[tuple[str, RenderableType]]:
    if advice.stop_points:
        yield "Stop first", _stops(advice.stop_points)
    top = advice.proposal(advice.top)
    if top is not None:
        yield f"Next: {top.title}", _card(advice, top, book, currency)
        if top.outcomes:
            yield "What each result would mean", _outcomes(advice, top, book)
        yield "Why", Group(*(Text(line) for line in reasons_of(advice, top, book, currency)))
    yield "What else could be done", _others(advice, currency)
    if advice.alone:
        titles = ", ".join(title_of(advice, name) for name in advice.alone)
        yield "Can run by itself", Text(titles)
    if advice.step_back:
        yield "Look again at", Text(", ".join(advice.step_back))


def _stops(stops: Iterable[StopPoint]) -> Table:
    table = Table.grid(padding=(0, 2))
    for stop in stops:
        table.add_row(Text("STOP" if stop.bars else "ask", style=f"bold {_ACCENT}"), Text(stop.line), Text(stop.do))
    return table


def _card(advice: Advice, top: Proposal, book: Book, currency: str) -> Group:
    lines: list[RenderableType] = []
    if top.stop_points:
        lines.append(_stops(top.stop_points))
    if top.openings:
        lines.append(Text("Off or out: " + ", then ".join(book.openings[name].title for name in top.openings)))
    lines += [Text(f"{number}. {step}") for number, step in enumerate(_how(top, book), 1)]
    cautions = _cautions(top, book)
    if cautions:
        lines.append(Text("Mind: " + " ".join(cautions)))
    to_go, spent = (money_in_words(cents, currency) for cents in (advice.to_go, advice.spent))
    lines.append(Text(f"To go about {to_go}, spent about {spent}.", "dim"))
    lines.append(Text(TO_GO, "dim"))
    lines.append(Text("Sums are at the usual rates of a small shop (estimates).", "dim"))
    return Group(*lines)


def _how(top: Proposal, book: Book) -> list[str]:
    steps: list[str] = []
    for part in top.parts:
        name = part.partition("@")[0]
        steps += book.checks[name].steps if name in book.checks else ()
        steps += book.repairs[name].steps if name in book.repairs else ()
    return steps


def _cautions(top: Proposal, book: Book) -> list[str]:
    names: list[str] = [hazard for opening in top.openings for hazard in book.openings[opening].hazards]
    for part in top.parts:
        name = part.partition("@")[0]
        for noun in (book.checks.get(name), book.repairs.get(name)):
            names += (*noun.hazards, *noun.rules) if noun is not None else ()
    return [book.hazards[name].caution for name in dict.fromkeys(names)]


def _outcomes(advice: Advice, top: Proposal, book: Book) -> Table:
    table = Table.grid(padding=(0, 2))
    for outcome in top.outcomes[:RESULTS]:
        means = (
            "; ".join(f"{named(lead, book)} {in_words(lead.p)}" for lead in outcome.leading[:2])
            or "nothing that matters"
        )
        then = f"then {title_of(advice, outcome.first)}" if outcome.first else ""
        table.add_row(Text(in_words(outcome.p), "dim"), Text(outcome.line), Text(means), Text(then))
    return table


def _others(advice: Advice, currency: str) -> Table:
    table = Table.grid(padding=(0, 2))
    others = [each for each in advice.proposals if each.id != advice.top]
    for each in others[:OTHERS]:
        kind = "check" if each.kind == CHECK else "end" if each.kind == END else "repair"
        more = each.total - advice.to_go
        table.add_row(
            Text(kind, "dim"),
            Text(each.title),
            Text(f"costs {money_in_words(each.cents, currency)}", justify="right"),
            Text(f"{money_in_words(max(0.0, more), currency)} more in the end", "dim", justify="right"),
            Text("asks first" if each.stop_points else "", _ACCENT),
        )
    return table


def _grown(step: Step, currency: str) -> Tree:
    tree = Tree(_label(step, currency))
    for child in step.steps:
        _add(tree, child, currency)
    return tree


def _add(tree: Tree, step: Step, currency: str) -> None:
    branch = tree.add(_label(step, currency))
    for child in step.steps:
        _add(branch, child, currency)


def _label(step: Step, currency: str) -> Text:
    label = Text()
    if step.after:
        label.append(f"{step.after}: ", "italic")
    label.append(step.title, "bold")
    return label.append(f"  ({in_words(step.p)}, {money_in_words(step.cents, currency)})", "dim")
