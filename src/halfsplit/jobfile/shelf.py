"""``shelf:`` of a job file: how parts of the bench's own shelf stand when they come into the job."""

from collections.abc import Mapping
from types import MappingProxyType

from halfsplit.job.amounts import NO_BREAK, counted
from halfsplit.jobfile.reading import Form, Reader
from halfsplit.model.machine import Standing
from halfsplit.yamltext import Node

BAD, EXPOSED, SINCE = "bad", "exposed", "since"

_FIELDS = {
    BAD: "how likely it was bad when that was last known, from 0 to 1",
    EXPOSED: "in how many power-ups it was with parts of others since then",
    SINCE: "how long ago that was",
}
_MOST_EXPOSURES = 100_000
_DAY_SECONDS = 86_400.0


def read_standings(reader: Reader, node: Node) -> Mapping[str, Standing]:
    """Return part of the shelf -> how it stands; a part that the book does not have is HS111."""
    parts = {part.id: part.title for part in reader.book.shelf.values()}
    form = reader.form(node, parts, "the shelf")
    return MappingProxyType(
        {name: _standing(reader.form(said, _FIELDS, f"'{name}'")) for name, said in form.fields.items()}
    )


def standing_fields(standing: Standing) -> dict[str, str | float | None]:
    """Return what is written of how a part stands; what goes without saying is None."""
    return {
        BAD: standing.p_bad,
        EXPOSED: standing.exposures or None,
        SINCE: counted(standing.days, "day").replace(NO_BREAK, " ") if standing.days else None,
    }


def _standing(form: Form) -> Standing:
    reader, fields = form.reader, form.fields
    return Standing(
        reader.number(fields[BAD], (0.0, 1.0), BAD) if form.has(BAD) else None,
        reader.whole(fields[EXPOSED], (0, _MOST_EXPOSURES), EXPOSED) if form.has(EXPOSED) else 0,
        round(reader.seconds(fields[SINCE], SINCE) / _DAY_SECONDS) if form.has(SINCE) else 0,
    )
