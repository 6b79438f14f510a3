"""The codes on labels: what stands in a QR, how it is read back, and how it is drawn.

A code is ``hs:job:12`` or ``hs:shelf:supply_a``: what it is of and nothing else, no owner and no machine.
"""

import re
from dataclasses import dataclass
from functools import lru_cache

from markupsafe import Markup

from halfsplit.errors import Mistake, WebError
from halfsplit.web.drawings.markup import drawing, element

JOB, SHELF = "job", "shelf"

QUIET = 4
"""Blank modules around a QR, as ISO/IEC 18004 asks for."""

CORRECTION = "m"
"""Level of error correction: about 15 % of a QR may be dirty or torn."""

_CODE = re.compile(r"hs(\W|[^\x00-\x7f])(job|shelf)(?:\1)(.+)", re.IGNORECASE)
"""A scanner that types as on another keyboard has another sign in place of each colon."""


@dataclass(frozen=True)
class Code:
    """What a label is of.

    Args:
        of: JOB or SHELF.
        id: the number of the job, or the id of the part of the shelf.
    """

    of: str
    id: str

    def __str__(self) -> str:
        return f"hs:{self.of}:{self.id}"


def read_code(text: str) -> Code:
    """Return the code that was scanned or typed; a number alone is that of a job.

    Raises:
        WebError: HS811 it is none of this bench's codes.

    Example:
        >>> read_code("hs:job:12"), read_code(" 12 "), read_code("hs:shelf:supply_a").id
        (Code(of='job', id='12'), Code(of='job', id='12'), 'supply_a')
    """
    said = text.strip()
    if said.isdecimal():
        return Code(JOB, said)
    found = _CODE.fullmatch(said)
    if found is not None:
        of, name = found[2].casefold(), found[3].casefold()
        if of == SHELF:
            return Code(SHELF, re.sub(r"[^a-z0-9]", "_", name))
        if name.isdecimal():
            return Code(JOB, name)
    so = f"'{said[:60]}' is none of this bench's codes" if said else "nothing was scanned"
    should = "a label says hs:job:12 or hs:shelf:supply_a; a number alone is that of a job"
    raise WebError([Mistake("code", "HS811", so, should, "Scan a label of this bench, or write the job's number")])


@lru_cache(maxsize=256)
def qr_of(code: Code, title: str) -> Markup:
    """Return the QR of a code as a drawing: dark modules in rows, with the quiet zone around them.

    Args:
        code: the code.
        title: what it is the code of, for those who do not see it.
    """
    import segno  # noqa: PLC0415  few pages have a label on them

    rows = segno.make_qr(str(code), error=CORRECTION).matrix
    size = len(rows) + 2 * QUIET
    runs = []
    for y, row in enumerate(rows):
        bits = "".join("1" if dark else "0" for dark in row)
        runs += [
            f"M{each.start() + QUIET} {y + QUIET}h{len(each[0])}v1h-{len(each[0])}z" for each in _RUN.finditer(bits)
        ]
    ground = element("rect", width=size, height=size, class_="light")
    return drawing(title, size, size, ground, element("path", d="".join(runs), class_="dark"), class_="qr")


_RUN = re.compile("1+")
