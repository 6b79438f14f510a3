"""The grids of the bench, drawn: modules by slots, and outputs by cables by monitors."""

from types import MappingProxyType

from markupsafe import Markup

from halfsplit.job.grids import FAILED, NOT_TRIED, PASSED, Cell, Grid
from halfsplit.text import entry_name
from halfsplit.web.drawings.markup import element, joined

WORDS = MappingProxyType({PASSED: "passed", FAILED: "failed", NOT_TRIED: "not tried"})
"""What a mark says."""

AMONG_OTHERS = "failed, others in"


def memory_grid(grid: Grid) -> Markup:
    """Return memory modules by slots, each cell passed, failed or not tried.

    Args:
        grid: ``memory_cells(course, book)``; without rows or columns nothing is drawn.

    Example:
        ``memory_grid(memory_cells(view.course, book))``
    """
    return _grid(grid, "Memory grid", "module")


def output_grid(grid: Grid) -> Markup:
    """Return outputs by pairs of cable and monitor, each cell passed, failed or not tried.

    Args:
        grid: ``output_cells(course, book)``; without rows or columns nothing is drawn.

    Example:
        ``output_grid(output_cells(view.course, book))``
    """
    return _grid(grid, "Output grid", "output")


def _grid(grid: Grid, title: str, corner: str) -> Markup:
    if not grid.cells:
        return Markup("")
    head = element(
        "tr", element("th", corner, scope="col"), *(element("th", each, scope="col") for _, each in grid.columns)
    )
    rows = [
        element(
            "tr",
            element("th", name, scope="row"),
            *(_cell(grid.cells[row, column]) for column, _ in grid.columns),
        )
        for row, name in grid.rows
    ]
    table = element("table", element("caption", title), element("thead", head), element("tbody", *rows))
    return element("div", table, class_="drawn-grid", role="region", aria_label=title, tabindex="0")


def _cell(cell: Cell) -> Markup:
    words = AMONG_OTHERS if cell.with_others else WORDS[cell.state]
    said = [_mark(cell), element("span", words, class_="words")]
    if cell.run:
        said.append(element("span", entry_name(cell.run), class_="run"))
    return element("td", *said, class_=cell.state.replace("_", "-"))


def _mark(cell: Cell) -> Markup:
    """Return the mark of one cell: a tick, a cross (in brackets where others were in), or an empty dotted square."""
    drawn = [element("rect", x=1, y=1, width=26, height=26, class_="outline")]
    if cell.state == PASSED:
        drawn.append(element("path", d="M6 15L12 21L22 7", class_="tick"))
    elif cell.state == FAILED:
        drawn.append(element("path", d="M7 7L21 21M21 7L7 21", class_="cross"))
        if cell.with_others:
            drawn.append(element("path", d="M5 4L3 4L3 24L5 24M23 4L25 4L25 24L23 24", class_="stroke"))
    return element("svg", joined(*drawn), viewBox="0 0 28 28", class_="drawn-mark", aria_hidden="true")
