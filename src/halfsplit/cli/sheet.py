"""A weighed job on a terminal: ink on paper, one accent, suspicion shown by length and hatching."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from halfsplit.job.weighed import (
    NOT_REACHED,
    REACHED,
    STOPPED,
    UNKNOWN,
    FaultSuspicion,
    Moved,
    PartSuspicion,
    RunColumn,
    Weighed,
    by_p,
)
from halfsplit.text import in_words, length_in_words, range_in_words

LEAST_P = 0.01
"""Suspicions below this are not shown; the JSON has them all."""

_MOST_FAULTS, _MOST_PARTS, _MOST_SETS, _MOST_MOVED = 8, 6, 5, 6
_LEADING = 3  # suspicions of which it is told what moved them
_LEAST_ODDS_RATIO = 1.25  # what moved a suspicion by less than this is not worth a line
_MOSTLY = 0.5  # a bound this large says no more than that nothing is known of what was left out
_BAR = 20
_RUN_WIDTH = 12
_TITLE_WIDTH = 22
_ACCENT = "blue"


@dataclass(frozen=True)
class _Signs:
    """What is drawn with: in full, or for a terminal that knows plain letters only."""

    marks: dict[str, str]
    solid: str
    hatched: str
    rule: str


_FULL = _Signs({REACHED: "●", NOT_REACHED: "○", UNKNOWN: "·", STOPPED: "✕"}, "█", "▒", "─")
_PLAIN = _Signs({REACHED: "o", NOT_REACHED: "-", UNKNOWN: ".", STOPPED: "x"}, "#", "/", "-")


def print_sheet(weighed: Weighed, console: Console) -> None:
    """Print all that is to be said about a job."""
    signs = _FULL if console.encoding.lower().startswith("utf") else _PLAIN
    titles = {fault.id: f"{fault.title} ({fault.part})" for fault in weighed.faults}
    for heading, body in _chapters(weighed, titles, signs, console.width):
        console.print()
        console.print(Text(f"{heading} ", style="bold").append(signs.rule * (console.width - len(heading) - 1), "dim"))
        console.print(Padding(body, (0, 0, 0, 2)))


def _chapters(
    weighed: Weighed, titles: dict[str, str], signs: _Signs, width: int
) -> Iterator[tuple[str, RenderableType]]:
    """Yield heading and body of each part of the sheet."""
    if weighed.runs:
        yield "The ladder", _ladder(weighed, signs, width - 2)
    if weighed.impossible:
        yield "These cannot all be true", _impossible(weighed)
    if weighed.aside:
        yield "Laid aside", _aside(weighed)
    if weighed.faults or not weighed.impossible:
        yield "Likely faults", _faults(weighed.faults, signs)
        yield "Parts and joints", _parts(weighed.parts, signs)
        yield "Together", _sets(weighed, titles)
        moved = _moved(weighed, titles)
        if moved.renderables:
            yield "What moved them", moved
        yield "Do the readings agree?", _conflict(weighed, titles)
    yield "How exact", Text(_exactness(weighed))


def _ladder(weighed: Weighed, signs: _Signs, width: int) -> RenderableType:
    """Return the rungs as rows, log-in at the top, and each run as a column."""
    each = max(1, (width - _TITLE_WIDTH) // (_RUN_WIDTH + 1))
    tables: list[RenderableType] = []
    for first in range(0, len(weighed.runs), each):
        if first:
            tables.append(Text(""))
        tables.append(_ladder_table(weighed, weighed.runs[first : first + each], signs))
    marks = signs.marks
    legend = (
        f"{marks[REACHED]} reached   {marks[STOPPED]} stopped before it   "
        f"{marks[NOT_REACHED]} not reached   {marks[UNKNOWN]} not seen"
    )
    return Group(*tables, Text(legend, style="dim"))


def _ladder_table(weighed: Weighed, runs: Sequence[RunColumn], signs: _Signs) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), show_header=False)
    table.add_column(width=_TITLE_WIDTH)
    for _ in runs:
        table.add_column(width=_RUN_WIDTH)
    table.add_row("", *(Text(run.id, style="bold") for run in runs))
    for line in range(max((len(run.heads) for run in runs), default=0)):
        table.add_row("", *(Text(run.heads[line] if line < len(run.heads) else "", style="dim") for run in runs))
    table.add_row(Text("then", style="dim"), *(Text(_after_log_in(run), style=_ACCENT) for run in runs))
    for place in reversed(range(len(weighed.rungs))):
        cells = [_mark(run, place, signs) for run in runs]
        table.add_row(weighed.rungs[place][1], *cells)
    return table


def _after_log_in(run: RunColumn) -> str:
    if run.ended == "none":
        return "stays up"
    return _ending(run) if run.marks[-1] == REACHED else ""


def _ending(run: RunColumn) -> str:
    if run.ended_after_seconds is None:
        return run.ended
    return f"{run.ended} {length_in_words(run.ended_after_seconds)}"


def _mark(run: RunColumn, place: int, signs: _Signs) -> Text:
    """Return the mark of one rung; how a run ended below log-in stands where it stopped, if that is known."""
    mark = run.marks[place]
    where = STOPPED if STOPPED in run.marks else UNKNOWN
    text = Text(signs.marks[mark], style={REACHED: "bold", STOPPED: f"bold {_ACCENT}"}.get(mark, "dim"))
    if run.ended not in ("", "none") and mark == where and run.marks.index(where) == place:
        text.append(f" {_ending(run)}", style=_ACCENT)
    return text


def _bar(p: float, low: float, high: float, signs: _Signs) -> Text:
    """Return a bar as long as the suspicion: solid to the low end of its range, hatched to the high one."""
    ends = [round(_BAR * min(max(end, 0.0), 1.0)) for end in (min(low, p), max(high, p))]
    bar = Text(signs.solid * ends[0], style=_ACCENT)
    return bar.append(signs.hatched * (ends[1] - ends[0]), style=_ACCENT)


def _rows() -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    table.add_column(width=20, no_wrap=True)
    table.add_column(width=_BAR, no_wrap=True)
    return table


def _faults(faults: Sequence[FaultSuspicion], signs: _Signs) -> RenderableType:
    shown = [fault for fault in by_p(faults) if fault.p >= LEAST_P][:_MOST_FAULTS]
    if not shown:
        return Text("Nothing that the book knows of is likely.")
    table = _rows()
    for fault in shown:
        said = Text(fault.title, style="bold").append(f" at {fault.part}", style="dim")
        if in_words(fault.low) != in_words(fault.high):
            said.append(f" ({range_in_words(fault.low, fault.high)})", style="dim")
        table.add_row(in_words(fault.p), _bar(fault.p, fault.low, fault.high, signs), said)
    note = "Hatched: how far it moves when the book's own numbers are moved within their spreads."
    return Group(table, Text(note, style="dim"))


def _parts(parts: Sequence[PartSuspicion], signs: _Signs) -> RenderableType:
    shown = [part for part in by_p(parts) if part.p >= LEAST_P][:_MOST_PARTS]
    if not shown:
        return Text("None is likely to be bad.")
    table = _rows()
    for part in shown:
        table.add_row(in_words(part.p), _bar(part.p, part.p, part.p, signs), Text(part.title, style="bold"))
    return table


def _sets(weighed: Weighed, titles: dict[str, str]) -> RenderableType:
    shown = sorted(weighed.sets, key=lambda one: (-one.p, one.faults))[:_MOST_SETS]
    shown = [one for one in shown if one.p >= LEAST_P]
    if not shown:
        return Text("No set of faults stands out.")
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    table.add_column(width=20, no_wrap=True)
    for one in shown:
        names = [titles.get(fault, fault) for fault in one.faults]
        table.add_row(in_words(one.p), Text(" + ".join(names) or "none of these faults"))
    return table


def _moved(weighed: Weighed, titles: dict[str, str]) -> Group:
    """Return, for the leading suspicions, the readings that moved them most, in the order of the log."""
    blocks: list[RenderableType] = []
    for fault in by_p(weighed.faults)[:_LEADING]:
        mine = [move for move in weighed.moved if move.fault == fault.id and _odds_ratio(move) >= _LEAST_ODDS_RATIO]
        kept = sorted(mine, key=_odds_ratio, reverse=True)[:_MOST_MOVED]
        mine = [move for move in mine if move in kept]
        if not mine:
            continue
        table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
        for move in mine:
            change = f"{in_words(move.p_before)} > {in_words(move.p_after).removeprefix('about ')}"
            said = Text(move.line)
            if move.p_without is not None:
                said.append(f"; without it {in_words(move.p_without)}", style="dim")
            table.add_row(Text(move.reading, style="dim"), change, said)
        blocks += [Text(titles[fault.id], style="bold"), Padding(table, (0, 0, 0, 2))]
    return Group(*blocks)


def _odds_ratio(move: Moved) -> float:
    """Return by how much a reading multiplied the odds, up or down, as a number of at least 1."""
    before, after = (max(p, 1e-300) / max(1.0 - p, 1e-16) for p in (move.p_before, move.p_after))
    return max(after / before, before / after)


def _conflict(weighed: Weighed, titles: dict[str, str]) -> RenderableType:
    conflict = weighed.conflict
    lines = []
    if math.isinf(weighed.log_p_readings):
        lines.append(f"Nothing was found that shows all of them; up to {conflict.since} something was.")
        lines.append("Is something not so that was told from there on?")
    elif conflict.is_alarm:
        since = f", most since {conflict.since}" if conflict.since else ""
        lines.append(f"They strain against each other{since}. Is one of them wrong?")
        if conflict.without:
            lines.append(f"They agree best without {conflict.without[0][0]}.")
        if conflict.explained_by:
            lines.append(f"It would be explained by: {titles.get(conflict.explained_by, conflict.explained_by)}.")
        lines.append(f"A fault that the book does not know: {in_words(conflict.p_unlisted)}.")
    else:
        lines.append("Yes, as far as the book knows.")
    if weighed.is_absurd:
        lines.append("All of them together are so unlikely that something told is probably not so.")
    return Text("\n".join(lines))


def _impossible(weighed: Weighed) -> RenderableType:
    lines = [
        f"{', '.join(weighed.impossible)}: no set of faults can have shown all of them.",
        "Which one is not so?",
    ]
    if weighed.faults:
        lines.append("Until it is put right, what no fault can have shown is taken for a wrong entry.")
    return Text("\n".join(lines))


def _aside(weighed: Weighed) -> RenderableType:
    return Text(f"{', '.join(weighed.aside)}: nothing was found that shows this with the rest. Look at it again.")


def _exactness(weighed: Weighed) -> str:
    if weighed.bound_share <= 0.0:
        return "Exact: nothing was left out."
    if weighed.left_out is not None:
        most = in_words(weighed.left_out.high).removeprefix("about ")
        return f"{most[0].upper()}{most[1:]} of the answer was left out to be fast: an estimate; proven is less."
    if weighed.bound_share >= _MOSTLY:
        return "The readings were too rich to weigh in full. How much of the answer was left out is not known."
    share = in_words(weighed.bound_share).removeprefix("about ")
    return f"{share[0].upper()}{share[1:]} of the answer, at most, was left out to be fast."
