"""A run as a column on the ladder: what it says of each rung, and how it ended."""

from halfsplit.job.amounts import counted
from halfsplit.job.lines import conditions_in_words, setup_in_words
from halfsplit.job.weighed import NOT_REACHED, REACHED, STOPPED, UNKNOWN, RunColumn
from halfsplit.model.book import Book
from halfsplit.model.job import YES, Run


def run_column(run: Run, book: Book) -> RunColumn:
    """Return a run drawn on the ladder.

    Args:
        run: the run as it stands now, with its corrections.
        book: the fault book, for the ladder and for what a sign proves.

    Returns:
        A rung is REACHED when it, a higher one or a sign that proves it was seen, or when the run did not
        stop; the lowest rung that was not reached is STOPPED, those above are NOT_REACHED; what lies
        between is UNKNOWN.
    """
    seen, ladder = run.seen, book.ladder
    rungs = [rung.id for rung in ladder.rungs]
    proved = [book.signs[sign].proves for sign, said in seen.signs.items() if said == YES and sign in book.signs]
    if seen.reached:
        proved.append(seen.reached)
    if seen.stayed and not seen.not_reached:
        proved.append(rungs[-1])
    reached = max((ladder.place(rung) for rung in proved), default=-1)
    missed = ladder.place(seen.not_reached) if seen.not_reached else len(rungs)
    marks = [
        REACHED if place <= reached else UNKNOWN if place < missed else STOPPED if place == missed else NOT_REACHED
        for place in range(len(rungs))
    ]
    ended = "none" if seen.stayed else (seen.stop.kind or "stops") if seen.stop is not None else ""
    seconds = seen.stop.seconds if seen.stop is not None else None
    return RunColumn(run.id, _heads(run, book), tuple(marks), ended, seconds)


def _heads(run: Run, book: Book) -> tuple[str, ...]:
    """Return what sets this run apart, in a few words each."""
    heads = [] if run.of == 1 else [counted(run.of, "time") if run.failed == run.of else f"{run.failed} of {run.of}"]
    return (*heads, *conditions_in_words(run.conditions, book), *setup_in_words(run, book))
