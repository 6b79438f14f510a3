"""What is known of a machine, in a few words each."""

from halfsplit.model.book import Book
from halfsplit.model.job import Job
from halfsplit.web.texts import say, texts


def machine_words(job: Job, book: Book) -> list[str]:
    """Return what is known of a machine, a few words each."""
    said = []
    for name, value in job.machine.items():
        words = f"{value:g}" if isinstance(value, int | float) else plain(str(value))
        if name == "age_years":
            said.append(say("machine.years", years=words))
        else:
            said.append(words if name == "kind" else f"{_fact(name, book)}: {words}")
    kinds: dict[str, int] = {}
    for part in job.parts:
        kind = part.slot.partition(".")[0]
        kinds[kind] = kinds.get(kind, 0) + 1
    for kind, many in kinds.items():
        title = book.kinds[kind].title
        said.append(say("machine.several", part=title, many=many) if many > 1 else title)
    return said + [f"no {book.kinds[kind].title}" for kind in job.missing]


def _fact(name: str, book: Book) -> str:
    """Return what a fact of a machine is called, in as few words as it has."""
    if f"fact.{name}" in texts():
        return say(f"fact.{name}")
    return book.facts[name].title if name in book.facts else name.replace("_", " ")


def plain(word: str) -> str:
    """Return a value of a fact as people write it."""
    return word.replace("_", " ").replace("ddr", "DDR")
