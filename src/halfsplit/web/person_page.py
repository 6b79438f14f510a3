"""The person who brought the machine: kept sealed and apart from the log, shown here only, and erased with one tap."""

from dataclasses import dataclass, fields

from starlette.responses import Response

from halfsplit import actions
from halfsplit.errors import Mistake, StoreError
from halfsplit.store.persons import Person, PersonKept
from halfsplit.web.screen import show
from halfsplit.web.visit import Visit, go_to


@dataclass(frozen=True)
class PersonPage:
    """The person of a job.

    Args:
        number: of the job.
        person: who; without the passcode unless it was asked for.
        has_passcode: whether one is kept.
        is_shown: whether it is shown.
        dies_on: the day on which the record is erased, or "".
        mistakes: why the record cannot be opened; it can be erased all the same.
    """

    number: int
    person: Person
    has_passcode: bool
    is_shown: bool
    dies_on: str
    mistakes: tuple[Mistake, ...] = ()


def show_person(visit: Visit) -> Response:
    """Answer with the person of a job; a passcode that is kept stays covered."""
    return _answer(visit, is_shown=False)


def keep_person(visit: Visit) -> Response:
    """Keep, erase, or uncover what is kept of a person."""
    bench, number = visit.desk.bench, visit.number
    match visit.one("what"):
        case "erase":
            actions.erase_person(bench, number)
        case "uncover":
            return _answer(visit, is_shown=True)
        case _:
            person = Person(*(visit.one(each.name) for each in fields(Person)))
            actions.set_person(bench, number, person, now=visit.now, person_days=visit.settings.person_days)
    return go_to(f"/jobs/{number}/person")


def _answer(visit: Visit, *, is_shown: bool) -> Response:
    actions.job_view(visit.desk.bench, visit.number)
    try:
        kept = actions.get_person(visit.desk.bench, visit.number) or PersonKept(Person())
    except StoreError as error:
        return show(
            visit,
            "person",
            PersonPage(visit.number, Person(), has_passcode=False, is_shown=False, dies_on="", mistakes=error.mistakes),
        )
    person = kept.person if is_shown else kept.person.without_passcode()
    page = PersonPage(visit.number, person, bool(kept.person.passcode), is_shown, kept.dies_on)
    return show(visit, "person", page)
