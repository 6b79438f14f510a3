"""What people read, without the spaces at which no line is broken: they read as any other."""

from halfsplit.job.amounts import NO_BREAK


def spaced(text: str) -> str:
    """Return a text with plain spaces."""
    return text.replace(NO_BREAK, " ")
