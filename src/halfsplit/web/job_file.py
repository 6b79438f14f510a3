"""A job as a file: kept or sent on with its photos and without its person, and taken in from another bench."""

from starlette.responses import Response

from halfsplit import actions
from halfsplit.errors import Mistake, WebError
from halfsplit.web.visit import Visit, go_to


def give_job_file(visit: Visit) -> Response:
    """Answer with a job as a file to be kept."""
    content = actions.export_job(visit.desk.bench, visit.number)
    name = f'attachment; filename="job-{visit.number}.zip"'
    return Response(content, media_type="application/zip", headers={"Content-Disposition": name})


def take_job_file(visit: Visit) -> Response:
    """Open a new job from a file that was kept, here or elsewhere."""
    if len(visit.files) != 1:
        so, should = f"{len(visit.files)} files were sent", "one file is taken in"
        raise WebError([Mistake("form", "HS805", so, should, "Choose the file that was kept of a job")])
    number = actions.import_job(visit.desk.bench, visit.files[0], by=visit.who, now=visit.now)
    return go_to(f"/jobs/{number}#next")
