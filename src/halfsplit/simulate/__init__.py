"""Drawn machines whose truth is not the book, and policies that play them to a proven repair or to handing back.

A truth is a book moved within its spreads (``truths``); a machine is drawn from it with its faults, its complaint and
the story told (``machines``); a world shows what its runs, looks and numbers come to and what work does to it
(``worlds``); a bench is a world with a log and a bill (``benches``).  ``advised``, ``repairers`` and ``routine`` are
the policies, ``playing`` plays them, ``results`` sums them up.
"""

from halfsplit.simulate.machines import SETTINGS, Drawing, Drawn, draw_machine
from halfsplit.simulate.playing import POLICIES, Task, play, play_all
from halfsplit.simulate.results import Played, mean_cents, mean_needless, of_policy

__all__ = [
    "POLICIES",
    "SETTINGS",
    "Drawing",
    "Drawn",
    "Played",
    "Task",
    "draw_machine",
    "mean_cents",
    "mean_needless",
    "of_policy",
    "play",
    "play_all",
]
