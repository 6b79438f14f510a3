"""An address of every page that the demo's bench has, taken from the routes, and further faces of some of them."""

from halfsplit.web.routes import ROUTES

OPEN_JOB, CLOSED_JOB = 2, 1
"""Jobs of the demo: one with runs on its ladder, and the one that was collected."""

LOOKED_AT = (OPEN_JOB, 5, 8)
"""The demo's open jobs that have addresses here; the third was just brought in."""

KNOWN = {
    "{number:job}": (str(OPEN_JOB),),
    "{section}/{entry}": ("faults/board_dead", "checks/counter_run", "measurements/rail_12v", "hazards/mains"),
    "{entry}": ("run_1", "told_2", "inspect_2", "measure_1", "repair_1"),
}
"""What stands in addresses -> what is put there."""

NO_PAGES = ("/next", "/photos/", "/file")
"""Pieces of addresses that are no page by themselves: a part of one, a picture, a file."""

NOWHERE = "/nowhere"

MORE = (
    f"/jobs/{CLOSED_JOB}",
    f"/jobs/{CLOSED_JOB}/collection",
    *(f"/jobs/{number}" for number in LOOKED_AT[1:]),
    f"/jobs/{OPEN_JOB}/told?words=goes+off+in+games+since+the+cat+knocked+it+over",
    f"/jobs/{OPEN_JOB}/seen?check=counter_run",
    "/?q=storm",
    "/?q=nothing+of+the+kind",
    "/closed?before=1",
    "/book?q=supply",
    NOWHERE,
)
"""Further faces of pages: closed, waiting, just brought in, offered, found or not, the end of a list, refused."""


def addresses() -> list[str]:
    """Return the addresses; what is put for each word in braces must be in ``KNOWN``."""
    found = [
        address for method, address, _ in ROUTES if method == "GET" and not any(piece in address for piece in NO_PAGES)
    ]
    for name, values in KNOWN.items():
        found = [each.replace(name, value) for each in found for value in (values if name in each else ("",))]
    unknown = [each for each in found if "{" in each]
    assert not unknown, f"say in KNOWN what stands there: {unknown}"
    return [*found, *MORE]
