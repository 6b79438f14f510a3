"""Drawings: frozen data in, marked-up text out, to be put into a page as it is.

Every drawing says what it shows in its title and description, in marks and hatchings that differ without their
colour.  There are no scripts, no inline styles and no ids, so that one page may hold several; the look is in
``static/drawings.css``.

    {{ suspicion_bar(0.62, 0.4, 0.8) }}
"""

from halfsplit.web.drawings.bar import suspicion_bar
from halfsplit.web.drawings.grids import memory_grid, output_grid
from halfsplit.web.drawings.hatching import density_of
from halfsplit.web.drawings.ladder import ladder
from halfsplit.web.drawings.machine_map import machine_map
from halfsplit.web.drawings.target import target_setup

__all__ = [
    "density_of",
    "ladder",
    "machine_map",
    "memory_grid",
    "output_grid",
    "suspicion_bar",
    "target_setup",
]
