"""Begin a bench with what the process that ranks has around it: one core for numpy, and memory that is kept."""

import os
import sys

from halfsplit.ranking.process import MODEST


def be_modest() -> None:
    """Begin this program again with these surroundings, unless it has them; numpy and the C library look only once."""
    if any(os.environ.get(name) != value for name, value in MODEST.items()):
        os.execve(sys.executable, [sys.executable, *sys.argv], {**os.environ, **MODEST})
