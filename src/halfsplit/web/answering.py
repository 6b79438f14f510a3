"""What a tap on a job sheet does: enter an answer, pass a check over, take back, bring into a state."""

from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

from markupsafe import Markup
from starlette.responses import Response

from halfsplit import actions
from halfsplit.errors import Mistake, WebError
from halfsplit.model.job import Job
from halfsplit.store.states import APPROVED
from halfsplit.web.entered import staying
from halfsplit.web.entry_fields import read_number
from halfsplit.web.entry_text import fields_text, quoted
from halfsplit.web.job_page import job_page, machine_plan
from halfsplit.web.next_part import MOST_SECONDS, WANTED, NextPart, is_shown, next_part, standing_of
from halfsplit.web.number_field import numbers_text
from halfsplit.web.passing import NOT_SURE, REASONS, WITHOUT_NUMBERS, passing_text
from halfsplit.web.proof import proof_text
from halfsplit.web.screen import show
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit, go_to

NEXT = "#next"


@dataclass(frozen=True)
class NextPage:
    """The parts of the sheet that follow a tap.

    Args:
        next: the card, and the suspicions.
        plan: the machine as a drawn map, hatched by suspicion.
    """

    next: NextPart
    plan: Markup


def show_job(visit: Visit) -> Response:
    """Answer with the sheet of a job; whoever opens it works on it from now on."""
    page = job_page(visit)
    if page.is_open and not visit.is_early:
        _start_time(visit)
    return show(visit, "job", page)


def come(visit: Visit) -> Response:
    """Note that whoever had the sheet of an open job asked for early has come to it; it may be closed by now."""
    _start_time(visit)
    return Response(status_code=204)


def show_next(visit: Visit) -> Response:
    """Answer with the parts of the sheet that follow a tap, for a page that refreshes itself.

    What the page shows already is not answered with at once: it waits a moment for more.
    """
    view = actions.job_view(visit.desk.bench, visit.number)
    standing, news = standing_of(visit, view), visit.desk.weigher.news
    if standing is not None and not standing.is_done and is_shown(visit, view, standing):
        visit.desk.weigher.wait_for_news(news, MOST_SECONDS)
        view = actions.job_view(visit.desk.bench, visit.number)
        standing = standing_of(visit, view)
    page = NextPage(next_part(visit, view, standing), machine_plan(view, standing))
    return show(visit, "next", page)


def enter(visit: Visit) -> Response:
    """Enter what was seen, measured or done; all of a form in one transaction."""
    book = visit.desk.bench.book
    said, numbers = visit.all("entry"), numbers_text(visit.fields, book)
    texts = [*said, *numbers]
    if not texts:
        raise WebError([_nothing()])
    if visit.one("unmeasured") and not numbers:  # it was done without them: the card does not ask for them again
        texts.append(passing_text(WITHOUT_NUMBERS, visit.one("title"), visit.one("unmeasured")))
    actions.record(visit.desk.bench, visit.number, "\n".join(texts), by=visit.who, now=visit.now)
    if visit.one("then"):
        visit.desk.weigher.expect(visit.number, visit.one("then"))
    return go_to(_back(visit))


def note(visit: Visit) -> Response:
    """Enter a note in somebody's own words."""
    if not visit.one("words"):
        raise WebError([_nothing()])
    text = fields_text("note", {"text": quoted(visit.one("words"))})
    actions.record(visit.desk.bench, visit.number, text, by=visit.who, now=visit.now)
    return go_to(_back(visit))


def pass_over(visit: Visit) -> Response:
    """Pass over a check: not sure, could not, already done.

    What was done and nobody is sure of is entered so, before the decision that it is not to be done again.
    """
    reason = visit.one("reason")
    if reason not in REASONS:
        raise WebError([_unknown("reason", reason, ", ".join(REASONS))])
    texts = [passing_text(reason, visit.one("title"), visit.one("proposal"))]
    if reason == NOT_SURE and visit.one("unsure"):
        texts.insert(0, visit.one("unsure"))
    actions.record(visit.desk.bench, visit.number, "\n".join(texts), by=visit.who, now=visit.now)
    return go_to(_back(visit))


def undo(visit: Visit) -> Response:
    """Take back what was just entered."""
    actions.undo(visit.desk.bench, visit.number, visit.one("takes_back"), by=visit.who, now=visit.now)
    return go_to(_back(visit))


def prove(visit: Visit) -> Response:
    """Enter one more proof run: one that held, or one that did not, after which the card is looked at."""
    view = actions.job_view(visit.desk.bench, visit.number)
    held = not visit.one("failed")
    name = visit.one("proof" if held else "failed")
    text = proof_text(name, view.job or Job(), view.course, view.on_file.book, held=held)
    if text is None:
        raise WebError([_unknown("proof", name, "the runs on the sheet")])
    actions.record(visit.desk.bench, visit.number, text, by=visit.who, now=visit.now)
    return go_to(f"/jobs/{visit.number}#proof" if held else _back(visit))


def bring_into_state(visit: Visit) -> Response:
    """Bring a job into another state."""
    actions.set_state(
        visit.desk.bench,
        visit.number,
        visit.one("state"),
        by=visit.who,
        now=visit.now,
        waiting_for=visit.one("waiting_for"),
    )
    return go_to(f"/jobs/{visit.number}")


def owner_told(visit: Visit) -> Response:
    """Note that the owner was spoken to."""
    actions.note_contact(visit.desk.bench, visit.number, now=visit.now)
    return go_to(f"/jobs/{visit.number}")


def agree(visit: Visit) -> Response:
    """Note that the owner said yes, to a sum or to none, and that the job is approved."""
    said = {"text": quoted(visit.one("words") or say("agree.note"))}
    if visit.one("sum"):
        title = say("agree.sum", currency=visit.settings.currency)
        said["cost"] = f"{read_number(title, visit.one('sum'), least=0.0):.2f}"
    bench, number = visit.desk.bench, visit.number
    actions.record(bench, number, fields_text("agree", said), by=visit.who, now=visit.now)
    actions.set_state(bench, number, APPROVED, by=visit.who, now=visit.now)
    actions.note_contact(bench, number, now=visit.now)
    return go_to(f"/jobs/{number}")


def promise(visit: Visit) -> Response:
    """Promise a job for a day."""
    day = visit.one("day")
    try:
        promised = date.fromisoformat(day) if day else None
    except ValueError as error:
        raise WebError([_unknown("day", day, "a day, as in 2030-01-31")]) from error
    actions.promise(visit.desk.bench, visit.number, promised)
    return go_to(f"/jobs/{visit.number}")


def call_away(visit: Visit) -> Response:
    """Let nobody's time go to a job any more: called away."""
    actions.call_away(visit.desk.bench, by=visit.who, now=visit.now)
    return go_to("/")


def put_away(visit: Visit) -> Response:
    """Put away a job that was opened by mistake, or bring it back."""
    if visit.one("back"):
        actions.bring_back(visit.desk.bench, visit.number)
        return go_to(f"/jobs/{visit.number}")
    days = visit.settings.person_days
    actions.put_away(visit.desk.bench, visit.number, now=visit.now, person_days=days)
    return go_to("/")


def collect(visit: Visit) -> Response:
    """Note that the machine is collected."""
    days = visit.settings.person_days
    actions.collect(visit.desk.bench, visit.number, by=visit.who, now=visit.now, person_days=days)
    return go_to(f"/jobs/{visit.number}/collection")


def add_photos(visit: Visit) -> Response:
    """Keep photos of a job."""
    if not visit.files:
        raise WebError([_nothing()])
    actions.add_photos(
        visit.desk.bench,
        visit.number,
        visit.files,
        by=visit.who,
        now=visit.now,
        title=visit.one("title"),
        is_private=bool(visit.one("private")),
    )
    return go_to(f"/jobs/{visit.number}#photos")


def show_photo(visit: Visit) -> Response:
    """Answer with a photo."""
    photo, content = actions.read_photo(visit.desk.bench, visit.number, visit.path["hash"])
    return Response(content, media_type=f"image/{photo.kind}")


def _start_time(visit: Visit) -> None:
    """Let the time of whoever is at the page, if that is known, go to the job from now on."""
    if visit.who:
        actions.start_time(visit.desk.bench, visit.number, by=visit.who, now=visit.now)


def _back(visit: Visit) -> str:
    """Return where a tap leads: to the sheet, or back to the page where there may be more to enter.

    What was made ready for a check leads to the card of that check.
    """
    page, wanted = staying(visit), visit.one(WANTED)
    if page is not None:
        return f"/jobs/{visit.number}/{page}"
    return f"/jobs/{visit.number}{f'?{urlencode({WANTED: wanted})}' if wanted else ''}{NEXT}"


def _nothing() -> Mistake:
    return Mistake("form", "HS805", "nothing was entered", "a form says something", "Choose or write something")


def _unknown(place: str, word: str, allowed: str) -> Mistake:
    return Mistake(place, "HS805", f"it is '{word}'", f"allowed here: {allowed}", "Choose one of them")
