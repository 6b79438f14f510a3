"""What one reading of a check may come to.

A *view* is worked out from acts alone and knows no suspicion, so that it is good for the next advice as well.
"""

from collections.abc import Callable

from halfsplit.job.act_tables import ActTable
from halfsplit.job.cells import Cells, Placed


class View:
    """What one reading may come to.

    Args:
        cells: the cells of all plans.
    """

    def __init__(self, cells: Cells) -> None:
        self._cells = cells
        self._table: ActTable | None = None
        self._placed: Placed | None = None

    def place(self, table: ActTable, moved: Callable[[], ActTable], placed: Placed) -> None:
        """Set it up for the roots of a job.

        Args:
            table: what each plan does.
            moved: asked for what it does after the work that leads to the reading.
            placed: where the roots of the job have their cells.
        """
        if table is not self._table:
            self._table = table
            self._read(moved())
            self._placed = None
        if placed is not self._placed:
            self._placed = placed
            self._refresh(placed)

    def _read(self, table: ActTable) -> None:
        """Take over what roots do."""

    def _refresh(self, placed: Placed) -> None:
        """Take over what happens in every world."""
