"""The door from a shell: one command, its words, and how it says no."""

from halfsplit.cli.door import main

__all__ = ["main"]
