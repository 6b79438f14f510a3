"""The sections that say what a machine is made of and what a run can be: parts to tellers."""

from collections.abc import Iterator, Mapping
from types import MappingProxyType

from halfsplit.book.desk import Desk
from halfsplit.book.form import Form, items_of, prose_of
from halfsplit.book.strength import read_basis
from halfsplit.book.tree import Map
from halfsplit.model.bench import Load, Word
from halfsplit.model.book import Complaint, Teller
from halfsplit.model.ladder import Ladder, Rung
from halfsplit.model.machine import Fact, Grade, Host, Joint, Output, PartKind, ShelfPart

RUNGS = (
    "standby_power",
    "starts",
    "rails_good",
    "processor_runs",
    "memory_passes",
    "self_test",
    "boot_drive",
    "loader",
    "system_loads",
    "log_in",
)
"""The ten rungs, lowest first."""

STRESSES = ("card", "processor", "memory", "drive", "supply")
"""What a load may stress."""

_PAIR = 2  # an earliest and a latest, or opening and closing


def forms_of(desk: Desk, section: str, noun: str) -> Iterator[Form]:
    """Yield each entry of a section as a form; the reader closes it."""
    for entry_id, slot in desk.pages.sections[section].items():
        yield Form(desk, slot.place, slot.node, noun, entry_id)


def pair_of(form: Form, key: str, unit: str) -> tuple[float, float]:
    """Return two numbers, 0 or more, written as a list."""
    node = form.node(key, needed=True)
    if node is None:
        return (0.0, 0.0)
    items = items_of(node)
    if len(items) != _PAIR or isinstance(node, Map):
        form.desk.say_wrong_kind(node, f"'{key}'", f"a list of two numbers in {unit}, as [1, 2]")
        return (0.0, 0.0)
    first, second = (form.desk.number_of(item, f"'{key}'", unit=unit, low=0.0) for item in items)
    return (first or 0.0, second or 0.0)


def read_ladder(desk: Desk) -> Ladder:
    """Read ``ladder``: the ten rungs in their order (HS313)."""
    rungs = []
    for form in forms_of(desk, "ladder", "rung"):
        seconds = pair_of(form, "seconds", "seconds")
        if seconds[1] < seconds[0]:
            desk.say(
                form.place_of("seconds"),
                "HS309",
                f"the earliest time {seconds[0]:g} s is after the latest {seconds[1]:g} s",
                "'seconds' is [earliest, latest]",
                "Swap or correct them",
            )
        rungs.append(Rung(form.id, form.prose("title"), seconds))
        form.close()
    written = tuple(rung.id for rung in rungs)
    if written != RUNGS:
        slots = desk.pages.sections["ladder"]
        odd = next((rung for rung, right in zip(written, RUNGS, strict=False) if rung != right), None)
        place = slots[odd].place if odd else desk.first_place()
        desk.say(
            place,
            "HS313",
            f"the rungs are {', '.join(written)}" if written else "there is no ladder",
            f"the ladder is {', '.join(RUNGS)}",
            "Write these ten, lowest first",
        )
        known = {rung.id: rung for rung in rungs}
        rungs = [known.get(rung_id, Rung(rung_id, rung_id, (0.0, 0.0))) for rung_id in RUNGS]
    return Ladder(tuple(rungs))


def read_parts(desk: Desk) -> Mapping[str, PartKind]:
    """Read ``parts``."""
    parts = {}
    for form in forms_of(desk, "parts", "part"):
        parts[form.id] = PartKind(
            form.id,
            form.prose("title"),
            many=form.yes_no("many", default=False),
            outside=form.yes_no("outside", default=False),
            default=form.count("default", 1),
            fields=form.prose_map("fields"),
            worth_cents=form.cents("worth"),
            price_cents=form.cents("price"),
        )
        form.close()
    return MappingProxyType(parts)


def read_joints(desk: Desk) -> Mapping[str, Joint]:
    """Read ``joints``."""
    joints = {}
    for form in forms_of(desk, "joints", "joint"):
        joints[form.id] = Joint(form.id, form.prose("title"), form.refs("between", "parts", needed=True))
        form.close()
    return MappingProxyType(joints)


def read_facts(desk: Desk) -> Mapping[str, Fact]:
    """Read ``facts``."""
    facts = {}
    for form in forms_of(desk, "facts", "fact"):
        shares = form.shares("values", f"the values of fact '{form.id}'")
        facts[form.id] = Fact(form.id, form.prose("title"), shares)
        form.close()
    return MappingProxyType(facts)


def read_hosts(desk: Desk) -> Mapping[str, Host]:
    """Read ``hosts``."""
    hosts = {}
    for form in forms_of(desk, "hosts", "host"):
        hosts[form.id] = Host(
            form.id, form.prose("title"), form.refs("own", "parts"), form.chance("p_good", 1.0)
        )
        form.close()
    return MappingProxyType(hosts)


def read_grades(desk: Desk) -> Mapping[str, Grade]:
    """Read ``grades``; a grade's basis is the one of its ``p_good``."""
    grades = {}
    for form in forms_of(desk, "grades", "grade"):
        title = form.prose("title")
        p_good = form.strength("p_good")
        basis = form.node("basis")
        grades[form.id] = Grade(
            form.id, title, p_good.p, p_good.basis if basis is None else read_basis(desk, basis)
        )
        form.close()
    return MappingProxyType(grades)


def read_shelf(desk: Desk) -> Mapping[str, ShelfPart]:
    """Read ``shelf``."""
    shelf = {}
    for form in forms_of(desk, "shelf", "shelf part"):
        shelf[form.id] = ShelfPart(
            form.id, form.ref("kind", "parts"), form.ref("grade", "grades"), form.prose("title", "")
        )
        form.close()
    return MappingProxyType(shelf)


def read_outputs(desk: Desk) -> Mapping[str, Output]:
    """Read ``outputs``."""
    outputs = {}
    for form in forms_of(desk, "outputs", "output"):
        outputs[form.id] = Output(form.id, form.prose("title"), form.ref("part", "parts"))
        form.close()
    return MappingProxyType(outputs)


def read_loads(desk: Desk) -> Mapping[str, Load]:
    """Read ``loads``."""
    loads = {}
    for form in forms_of(desk, "loads", "load"):
        stresses = tuple(
            word for place, word in form.placed_words("stresses") if desk.word_at(place, word, STRESSES)
        )
        loads[form.id] = Load(form.id, form.prose("title"), stresses)
        form.close()
    return MappingProxyType(loads)


def read_words(desk: Desk, section: str) -> Mapping[str, Word]:
    """Read a section of words, each with one line: ``conditions``, ``positions``, ``starters``, ``touches``."""
    return MappingProxyType(
        {
            word: Word(word, prose_of(desk, slot.node, f"'{word}'"))
            for word, slot in desk.pages.sections[section].items()
        }
    )


def read_complaints(desk: Desk) -> Mapping[str, Complaint]:
    """Read ``complaints``."""
    complaints = {}
    for form in forms_of(desk, "complaints", "complaint"):
        complaints[form.id] = Complaint(form.id, form.prose("title"), form.prose_list("words"))
        form.close()
    return MappingProxyType(complaints)


def read_tellers(desk: Desk) -> tuple[Teller, ...]:
    """Read ``tellers``; their shares add up to 1 (HS312)."""
    tellers = []
    for form in forms_of(desk, "tellers", "teller"):
        tellers.append(Teller(form.id, form.chance("share"), form.chance("slip")))
        form.close()
    if tellers:
        place = desk.pages.sections["tellers"][tellers[0].id].place
        desk.say_sum(place, {teller.id: teller.share for teller in tellers}, "the shares of the tellers")
    return tuple(tellers)
