"""Whether what an answer says is what was seen, for hands in a browser."""

from collections.abc import Iterable, Mapping, Sequence

from browser.machines import BOOK

from halfsplit.model.job import ChangeSetup, Entry, Inspect, Measure, RepairDone, Run, Seen


def pictures_asked(answers: Iterable[Sequence[Entry]]) -> Mapping[str, set[str]]:
    found: dict[str, set[str]] = {}
    for entries in answers:
        for entry in entries:
            if isinstance(entry, Run):
                for output, stages in entry.seen.picture.items():
                    found.setdefault(output, set()).update(stages)
    return found


def says(entries: Sequence[Entry], seen: Sequence[Entry]) -> bool:
    """Return whether an answer says what was seen, and nothing that was not."""
    if len(entries) != len(seen):
        return False
    return all(is_so(said, was) for said, was in zip(entries, seen, strict=True))


def is_so(said: Entry, was: Entry) -> bool:
    match said, was:
        case Run(), Run():
            a, b = said.seen, was.seen
            pictures = all(
                b.picture.get(output, {}).get(stage, lit) == lit
                for output, stages in a.picture.items()
                for stage, lit in stages.items()
            )
            same = (a.reached, a.not_reached, a.stayed, a.stop and a.stop.kind) == (
                b.reached,
                b.not_reached,
                b.stayed,
                b.stop and b.stop.kind,
            )
            return same and pictures and all(b.signs.get(name) == word for name, word in a.signs.items())
        case Inspect(), Inspect():
            return said.seen == was.seen
        case Measure(), Measure():
            return True
        case ChangeSetup() | RepairDone(), _:
            return True
    return False


def is_claimed(said: Seen, was: Seen) -> bool:
    """Return whether all that is said of how a run went is so."""
    ladder, top = BOOK.ladder, BOOK.ladder.rungs[-1].id
    reached = top if was.stayed and not was.not_reached else was.reached
    below = ladder.place(was.not_reached) if was.not_reached else len(ladder.rungs)
    kind = was.stop.kind if was.stop is not None else ""
    lit = {stage: is_lit for stages in was.picture.values() for stage, is_lit in stages.items()}
    claimed = [each for stages in said.picture.values() for each in stages.items()]
    return all(
        (
            not said.reached or (reached and ladder.place(said.reached) <= ladder.place(reached)),
            not said.not_reached or below <= ladder.place(said.not_reached),
            said.stop is None or (was.stop is not None and said.stop.kind in ("", kind)),
            said.stayed == was.stayed or not said.stayed,
            all(lit.get(stage) == is_lit for stage, is_lit in claimed),
        )
    )


def words_of(entry: Entry) -> str:
    match entry:
        case Run():
            s = entry.seen
            signs = [name for name, was in s.signs.items() if was == "yes"]
            lit = {output: dict(stages) for output, stages in s.picture.items()}
            return (
                f"reached {s.reached or '-'} not {s.not_reached or '-'} stop {s.stop} stayed {s.stayed} {lit} {signs}"
            )
        case Inspect() | Measure():
            return f"{entry.what}: {entry.seen if isinstance(entry, Inspect) else entry.value}"
        case _:
            return type(entry).__name__
