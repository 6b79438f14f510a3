"""What halfsplit can do, one transaction each: frozen data in, frozen data out.

Every action takes a ``Bench`` first; who (initials) and when (a moment with its time zone) come in as arguments.
"""

from halfsplit.actions.belongings import (
    add_photos,
    erase_due,
    erase_person,
    erase_photo,
    find_persons,
    get_person,
    read_photo,
    set_person,
)
from halfsplit.actions.bench import Bench
from halfsplit.actions.carry import export_job, import_job
from halfsplit.actions.entering import describe, open_job, record, undo
from halfsplit.actions.lifecycle import (
    bring_back,
    call_away,
    collect,
    job_of,
    note_contact,
    promise,
    put_away,
    set_state,
    start_time,
)
from halfsplit.actions.shelf import (
    add_shelf_part,
    count_consumable,
    drop_part,
    list_shelf,
    prove_part,
    regrade_part,
    shelf_events,
    stock_shelf,
    use_consumable,
)
from halfsplit.actions.view import (
    JobView,
    job_view,
    keep_summary,
    list_closed_jobs,
    list_open_jobs,
    search_jobs,
    sum_up,
    weigh,
)

__all__ = [
    "Bench",
    "JobView",
    "add_photos",
    "add_shelf_part",
    "bring_back",
    "call_away",
    "collect",
    "count_consumable",
    "describe",
    "drop_part",
    "erase_due",
    "erase_person",
    "erase_photo",
    "export_job",
    "find_persons",
    "get_person",
    "import_job",
    "job_of",
    "job_view",
    "keep_summary",
    "list_closed_jobs",
    "list_open_jobs",
    "list_shelf",
    "note_contact",
    "open_job",
    "promise",
    "prove_part",
    "put_away",
    "read_photo",
    "record",
    "regrade_part",
    "search_jobs",
    "set_person",
    "set_state",
    "shelf_events",
    "start_time",
    "stock_shelf",
    "sum_up",
    "undo",
    "use_consumable",
    "weigh",
]
