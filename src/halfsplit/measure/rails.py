"""The published limits of a desktop supply's rails, by name and revision.

All hold at the load end of the output connector, under load.  A supply is judged by the
revision it was built to: the same 11.30 V is a fault on a 2.x supply and fine on a 3.x one.
"""

import difflib
import re
from collections.abc import Mapping
from types import MappingProxyType

from halfsplit.errors import MeasurementError, Mistake
from halfsplit.measure.limits import Limits

_GUIDE_2 = "ATX12V Power Supply Design Guide 2.0, table 2"
_GUIDE_3 = "ATX Version 3 Multi Rail Power Supply Design Guide (336521), table 4-2"
_GUIDE_3_PCIE = "ATX Version 3 Multi Rail Power Supply Design Guide (336521), table 3-5"
_UNCONFIRMED = "; from memory, not confirmed"

# All of 2.x and the PCIe row of 3.x were read in the document.  +5VSB of 3.x was read too.
# From memory, not confirmed: +5V, +3.3V and -12V of 3.x, and the figure 11.20 of +12V.  The
# -7 % behind it was read in a second place; it would give 11.16, the table is said to print 11.20.
# The printed +3.3 V figures 3.14 and 3.47 are rounded; exactly +-5 % is 3.135 and 3.465.
# A note under the 2.x table lets +12V go to +-10 % at peak load.  It is not used: a bench reading is
# not taken at peak load.
# Late revisions of 3.x no longer ask for a -12 V rail; its limits hold where there is one.
PUBLISHED_RAIL_LIMITS: Mapping[tuple[str, str], Limits] = MappingProxyType(
    {
        ("+12V", "2.x"): Limits(11.40, 12.60, _GUIDE_2, "2.x"),
        ("+5V", "2.x"): Limits(4.75, 5.25, _GUIDE_2, "2.x"),
        ("+3.3V", "2.x"): Limits(3.14, 3.47, _GUIDE_2, "2.x"),
        ("-12V", "2.x"): Limits(-13.20, -10.80, _GUIDE_2, "2.x"),
        ("+5VSB", "2.x"): Limits(4.75, 5.25, _GUIDE_2, "2.x"),
        ("+12V", "3.x"): Limits(11.20, 12.60, _GUIDE_3 + _UNCONFIRMED, "3.x"),
        ("+5V", "3.x"): Limits(4.75, 5.25, _GUIDE_3 + _UNCONFIRMED, "3.x"),
        ("+3.3V", "3.x"): Limits(3.14, 3.47, _GUIDE_3 + _UNCONFIRMED, "3.x"),
        ("-12V", "3.x"): Limits(-13.20, -10.80, _GUIDE_3 + _UNCONFIRMED, "3.x"),
        ("+5VSB", "3.x"): Limits(4.75, 5.25, _GUIDE_3, "3.x"),
        ("+12V PCIe", "3.x"): Limits(11.04, 12.60, _GUIDE_3_PCIE, "3.x"),
    }
)

RAIL_NAMES: tuple[str, ...] = tuple(dict.fromkeys(rail for rail, _ in PUBLISHED_RAIL_LIMITS))
REVISIONS: tuple[str, ...] = tuple(dict.fromkeys(revision for _, revision in PUBLISHED_RAIL_LIMITS))

# How people write them, after _plain() has taken out plus signs, spaces and capitals.
_SPELLINGS: Mapping[str, str] = MappingProxyType(
    {
        "12v": "+12V",
        "12": "+12V",
        "12v1": "+12V",
        "12v2": "+12V",
        "5v": "+5V",
        "5": "+5V",
        "3.3v": "+3.3V",
        "3.3": "+3.3V",
        "3v3": "+3.3V",
        "-12v": "-12V",
        "-12": "-12V",
        "minus12v": "-12V",
        "5vsb": "+5VSB",
        "5vstandby": "+5VSB",
        "5vstby": "+5VSB",
        "standby": "+5VSB",
        "12vpcie": "+12V PCIe",
        "12vpcieaux": "+12V PCIe",
        "pcie12v": "+12V PCIe",
        "pcieaux": "+12V PCIe",
        "pcie": "+12V PCIe",
        "12vhpwr": "+12V PCIe",
        "12v2x6": "+12V PCIe",
    }
)


def rail_name(name: str) -> str:
    """Return the one name of a rail that people write in many ways.

    Args:
        name: as it was written: ``12v``, ``+12 V``, ``3v3``, ``5V standby``, ``-12V``.  The minus
            sign counts, a plus sign does not.

    Returns:
        One of ``RAIL_NAMES``.

    Raises:
        MeasurementError: HS502, no published limits are known for such a rail.

    Example:
        >>> rail_name("5V standby"), rail_name("3v3"), rail_name("- 12 volts")
        ('+5VSB', '+3.3V', '-12V')
    """
    plain = _plain(name)
    if plain in _SPELLINGS:
        return _SPELLINGS[plain]
    # A -5 V rail is old, not misspelt: the sign is never guessed.
    same_sign = [spelling for spelling in _SPELLINGS if spelling.startswith("-") == plain.startswith("-")]
    close = difflib.get_close_matches(plain, same_sign, n=1)
    raise MeasurementError(
        [
            Mistake(
                "rail",
                "HS502",
                f"'{name}' is not a rail with published limits",
                f"the rails are {', '.join(RAIL_NAMES)}",
                f"Did you mean {_SPELLINGS[close[0]]}? Write it so" if close else "Write one of these names",
            )
        ]
    )


def rail_revision(revision: str) -> str:
    """Return the family that a revision of the supply's design guide belongs to.

    Args:
        revision: ``2.x``, ``2.31``, ``ATX12V 2.4``, ``3.0``, ``ATX 3.1`` and the like: the
            revision printed on the supply, not the number of the document.

    Returns:
        One of ``REVISIONS``.

    Raises:
        MeasurementError: HS503, no limits are known for that revision.

    Example:
        >>> rail_revision("ATX12V 2.31"), rail_revision("3.1")
        ('2.x', '3.x')
    """
    match = re.fullmatch(r"(?:atx)?(?:12v)?v?([23])(?:\.(?:x|\d{1,2}))?", _plain(revision))
    if match:
        return f"{match[1]}.x"
    raise MeasurementError(
        [
            Mistake(
                "revision",
                "HS503",
                f"'{revision}' is not a revision with known limits",
                f"the revisions are {' and '.join(REVISIONS)}, or one of theirs, such as 2.31 or 3.1",
                "Look on the supply's label for ATX12V 2.something or ATX 3.something and write that",
            )
        ]
    )


def rail_limits(name: str, revision: str = "2.x") -> Limits:
    """Return the published limits of a rail.

    Args:
        name: the rail, as people write it; see ``rail_name``.
        revision: the revision that the supply was built to; see ``rail_revision``.

    Returns:
        The limits in volts, with their source.

    Raises:
        MeasurementError: HS502, HS503, or HS504 where that revision has no limits for that rail.
            An unknown rail and an unknown revision come back together.

    Example:
        >>> rail_limits("+12V").low_volts, rail_limits("12v", "3.1").low_volts
        (11.4, 11.2)
    """
    mistakes: list[Mistake] = []
    try:
        rail = rail_name(name)
    except MeasurementError as error:
        mistakes += error.mistakes
    try:
        family = rail_revision(revision)
    except MeasurementError as error:
        mistakes += error.mistakes
    if mistakes:
        raise MeasurementError(mistakes)
    if (rail, family) not in PUBLISHED_RAIL_LIMITS:
        having = [known for known in REVISIONS if (rail, known) in PUBLISHED_RAIL_LIMITS]
        raise MeasurementError(
            [
                Mistake(
                    "rail",
                    "HS504",
                    f"revision {family} prints no limits for {rail}",
                    f"limits for it are known in {', '.join(having)}",
                    f"Use that revision if the supply was built to it, or the limits of {rail.split()[0]}",
                )
            ]
        )
    return PUBLISHED_RAIL_LIMITS[rail, family]


def _plain(text: str) -> str:
    plain = re.sub(r"[\s_]", "", text.lower()).replace("\N{MINUS SIGN}", "-").replace(",", ".")
    plain = re.sub(r"volts?", "v", plain).removeprefix("+")
    return plain[:1] + plain[1:].replace("-", "")
