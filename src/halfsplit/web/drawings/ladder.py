"""The ladder: ten rungs, and a column for each run."""

from collections.abc import Callable, Sequence
from functools import cache
from types import MappingProxyType

from markupsafe import Markup

from halfsplit.job.weighed import NOT_REACHED, REACHED, STOPPED, UNKNOWN, RunColumn
from halfsplit.text import entry_name, length_in_words
from halfsplit.web.drawings.markup import element, joined

WORDS = MappingProxyType(
    {REACHED: "reached", STOPPED: "stopped before it", NOT_REACHED: "not reached", UNKNOWN: "not seen"}
)
"""What a mark says."""

MOST_HEADS = 5
"""Lines over a column that say what sets its run apart; the run's own entry says all of it."""

_SIDE = 32
_CROSS = "M9 9L23 23M23 9L9 23"

MOST_FITTING = 12
"""No page is so wide that more runs stand on it side by side."""

EARLIER = "\u2190 earlier runs: push the ladder to the right"
"""What is said where not all runs can be seen at once; ``drawings.css`` knows how many fit."""


def ladder(
    rungs: Sequence[tuple[str, str]], runs: Sequence[RunColumn], *, href: Callable[[str], str] | None = None
) -> Markup:
    """Return the ladder as a table: rungs as rows, log-in at the top, and each run as a column, first run first.

    It scrolls sideways where it is too wide, and then shows its last runs first.

    Args:
        rungs: pairs of id and title, lowest first.
        runs: the runs, in the order of the log; without any, nothing is drawn.
        href: asked for the address that a run leads to, by its id; None = it leads nowhere.

    Example:
        ``ladder(weighed.rungs, weighed.runs)``
    """
    if not runs:
        return Markup("")
    heads = element("tr", element("th", "Run", scope="col"), *(_head(run, href) for run in runs))
    after = element("tr", element("th", "then", scope="row"), *(element("td", _after_log_in(run)) for run in runs))
    rows = [
        element("tr", element("th", rungs[place][1], scope="row"), *(_cell(run, place) for run in runs))
        for place in reversed(range(len(rungs)))
    ]
    table = element("table", element("thead", heads), element("tbody", after, *rows))
    legend = [joined(_mark(mark), element("span", words)) for mark, words in WORDS.items()]
    return element(
        "div",
        element("p", EARLIER, class_=f"earlier runs-{min(len(runs), MOST_FITTING)}"),
        element("div", table, class_="ladder-scroll", role="region", aria_label="The ladder", tabindex="0"),
        element("p", *(element("span", each, class_="key") for each in legend), class_="legend", aria_hidden="true"),
        class_="drawn-ladder",
    )


def heads_shown(run: RunColumn, most: int) -> tuple[str, ...]:
    """Return what sets a run apart, in at most so many lines: where there are more, the last one says so."""
    return run.heads if len(run.heads) <= most else (*run.heads[: most - 1], "and more")


def _head(run: RunColumn, href: Callable[[str], str] | None) -> Markup:
    name = element("b", entry_name(run.id))
    link = name if href is None else element("a", name, href=href(run.id))
    heads = [element("span", head, class_="head") for head in heads_shown(run, MOST_HEADS)]
    return element("th", link, *heads, scope="col")


def _after_log_in(run: RunColumn) -> str:
    if run.ended == "none":
        return "stays up"
    return _ending(run) if run.marks[-1] == REACHED else ""


def _ending(run: RunColumn) -> str:
    ended = run.ended.replace("_", " ")
    return ended if run.ended_after_seconds is None else f"{ended} {length_in_words(run.ended_after_seconds)}"


def _cell(run: RunColumn, place: int) -> Markup:
    """Return one rung of one run; how the run ended below log-in stands where it stopped, if that is known."""
    mark = run.marks[place]
    where = STOPPED if STOPPED in run.marks else UNKNOWN
    said = [_mark(mark, is_lowest=place == 0)]
    if run.ended not in ("", "none") and mark == where and run.marks.index(where) == place:
        said.append(element("span", _ending(run), class_="ending"))
    return element("td", *said, class_=mark.replace("_", "-"))


@cache
def _mark(mark: str, *, is_lowest: bool = True) -> Markup:
    """Return the mark of one rung, each of its own shape; a rail joins the rungs that were reached.

    What is ink of it is one path, so that a ladder of many runs is soon on the screen.
    """
    drawn = []
    if mark == REACHED:
        drawn.append(_ink(_rung(0), _rail(0, 16 if is_lowest else _SIDE), _disc(7)))
    elif mark == STOPPED:
        drawn.append(_ink(_rung(11), *([] if is_lowest else [_rail(27, _SIDE)])))
        drawn.append(element("path", d=_CROSS, class_="cross"))
    elif mark == NOT_REACHED:
        drawn.append(_ink(_rung(6.6), _disc(6.6), _disc(5.4, is_hole=True)))
    else:
        drawn.append(_ink(_rung(10)))
        drawn.append(element("text", "?", x=16, y=20.5, text_anchor="middle", class_="unknown-mark"))
    said, box = WORDS[mark], f"0 0 {_SIDE} {_SIDE}"
    title = element("title", said)
    return element("svg", title, *drawn, viewBox=box, class_="drawn-mark", role="img", aria_label=said)


def _ink(*pieces: str) -> Markup:
    return element("path", d="".join(pieces), class_="ink")


def _rung(free: float) -> str:
    """Return the rung, as long as the mark is wide; so much is left free on both sides of its middle."""
    if not free:
        return "M2 15.6H30v.8H2z"
    return f"M2 15.6H{16 - free:g}v.8H2zM{16 + free:g} 15.6H30v.8H{16 + free:g}z"


def _rail(top: float, bottom: float) -> str:
    return f"M14.5 {top:g}h3V{bottom:g}h-3z"


def _disc(r: float, *, is_hole: bool = False) -> str:
    """Return a circle in the middle; a hole is drawn the other way round, so that what is there is left out."""
    arc = f"a{r:g} {r:g} 0 1 {0 if is_hole else 1} "
    return f"M{16 - r:g} 16{arc}{2 * r:g} 0{arc}{-2 * r:g} 0z"
