"""Which address is answered by what."""

from starlette.convertors import IntegerConvertor, register_url_convertor

from halfsplit.web import (
    answering,
    bench_page,
    book_page,
    closed_page,
    collection_page,
    entry_page,
    intake_page,
    job_file,
    label_page,
    machine_page,
    person_page,
    rebuild_page,
    scanning,
    seen_page,
    settings_page,
    shelf_page,
    slip_page,
)
from halfsplit.web.entry_fields import MOST_DIGITS
from halfsplit.web.visit import Handler


class JobNumber(IntegerConvertor):
    """The number of a job in an address: no job has more digits, and more need not fit into the database."""

    regex = f"[0-9]{{1,{MOST_DIGITS}}}"


register_url_convertor("job", JobNumber())
_JOB = "/jobs/{number:job}"

ROUTES: tuple[tuple[str, str, Handler], ...] = (
    ("GET", "/", bench_page.show_bench),
    ("GET", "/closed", closed_page.show_closed),
    ("GET", "/new", intake_page.show_intake),
    ("POST", "/new", intake_page.take_in),
    ("POST", "/import", job_file.take_job_file),
    ("GET", f"{_JOB}/file", job_file.give_job_file),
    ("GET", _JOB, answering.show_job),
    ("GET", f"{_JOB}/next", answering.show_next),
    ("POST", f"{_JOB}/come", answering.come),
    ("POST", f"{_JOB}/enter", answering.enter),
    ("POST", f"{_JOB}/note", answering.note),
    ("POST", f"{_JOB}/pass", answering.pass_over),
    ("POST", f"{_JOB}/undo", answering.undo),
    ("POST", f"{_JOB}/prove", answering.prove),
    ("POST", f"{_JOB}/state", answering.bring_into_state),
    ("POST", f"{_JOB}/owner", answering.owner_told),
    ("POST", f"{_JOB}/agree", answering.agree),
    ("POST", f"{_JOB}/promise", answering.promise),
    ("POST", f"{_JOB}/put_away", answering.put_away),
    ("POST", f"{_JOB}/collect", answering.collect),
    ("GET", f"{_JOB}/entries/{{entry}}", entry_page.show_entry),
    ("POST", f"{_JOB}/entries/{{entry}}", entry_page.correct),
    ("POST", f"{_JOB}/photos", answering.add_photos),
    ("GET", f"{_JOB}/photos/{{hash}}", answering.show_photo),
    ("GET", f"{_JOB}/told", intake_page.show_told),
    ("GET", f"{_JOB}/seen", seen_page.show_seen),
    ("GET", f"{_JOB}/mend", seen_page.show_mend),
    ("GET", f"{_JOB}/machine", machine_page.show_machine),
    ("POST", f"{_JOB}/machine", machine_page.keep_machine),
    ("GET", f"{_JOB}/person", person_page.show_person),
    ("POST", f"{_JOB}/person", person_page.keep_person),
    ("GET", f"{_JOB}/collection", collection_page.show_collection),
    ("GET", f"{_JOB}/copy", collection_page.show_copy),
    ("GET", f"{_JOB}/label", label_page.show_label),
    ("GET", f"{_JOB}/rebuild", rebuild_page.show_rebuild),
    ("GET", f"{_JOB}/slip", slip_page.show_slip),
    ("GET", "/slip", slip_page.show_blank_slip),
    ("POST", "/scan", scanning.scan),
    ("POST", "/away", answering.call_away),
    ("GET", "/settings", settings_page.show_settings),
    ("POST", "/settings", settings_page.keep_settings),
    ("POST", "/who", settings_page.choose_who),
    ("GET", "/shelf", shelf_page.show_shelf),
    ("POST", "/shelf", shelf_page.change_shelf),
    ("GET", "/shelf/labels", label_page.show_shelf_labels),
    ("GET", "/book", book_page.show_book),
    ("GET", "/book/{section}/{entry}", book_page.show_book_entry),
)
"""Method, address and handler of each page."""
