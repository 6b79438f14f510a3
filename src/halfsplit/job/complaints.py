"""What a run at home shows, by the class of complaint."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

MISBEHAVES_RUNNING = 0.2
"""How often "starts, then misbehaves" is told of a run that nothing stopped: stripes, closing programs (estimate)."""


@dataclass(frozen=True)
class HomeClass:
    """What a run at home shows: rungs reached and missed ("" = either), and whether it had a picture.

    Args:
        in_use: whether the machine was in use: whatever it can be busy with, for hours.
        no_stop: how often it is told of a run that nothing stopped, beside one that ended.
        stop: how often it is told of a run that was stopped where it says, beside one that was not.
    """

    reached: str = ""
    missed: str = ""
    lit: bool = False
    in_use: bool = False
    no_stop: float = 1.0
    stop: float = 1.0


CLASSES: Mapping[str, HomeClass] = MappingProxyType(
    {
        "nothing_happens": HomeClass(missed="rails_good", lit=False),
        "lights_no_picture": HomeClass(reached="starts", lit=False),
        "picture_then_stops": HomeClass(reached="memory_passes", missed="log_in", lit=True),
        "starts_misbehaves": HomeClass(reached="log_in", lit=True, in_use=True, no_stop=MISBEHAVES_RUNNING),
        "slow_noisy_other": HomeClass(reached="log_in", lit=True, in_use=True, stop=0.0),
    }
)
"""Class of complaint -> what a run at home shows (the trade's five classes)."""
