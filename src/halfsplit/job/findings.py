"""What a check was seen to show: a run, a look or a number, as a person says it."""

from collections.abc import Iterable
from dataclasses import dataclass
from types import MappingProxyType

from halfsplit.job.pictures import STAGES, is_picture, picture
from halfsplit.model.job import NO, YES, Seen, StopSeen

INSIDE = "inside"
"""What is told of a number that lies where it should."""

STATES = ("absent", "low", "high")
"""Where a number may lie outside its limits, worst first; these are its levels."""

OTHER = "something else"
"""What stands for the least likely results together."""


@dataclass(frozen=True)
class Ending:
    """How a run was seen to end.

    Args:
        line: in a few words.
        reached: the rung that it was seen to reach, or "".
        not_reached: the rung that it did not, or "".
        kind: how it stopped, or "".
        seconds: after log-in, where it stopped then; None = not said.
        stayed: whether it was watched to the end and did not stop.
    """

    line: str
    reached: str = ""
    not_reached: str = ""
    kind: str = ""
    seconds: float | None = None
    stayed: bool = False

    @property
    def is_dark(self) -> bool:
        """Whether it came up and had no picture until it ended, as its line says."""
        return bool(self.reached) and not self.stayed and self.seconds is None


@dataclass(frozen=True)
class RunSeen:
    """What was seen of one run.

    Args:
        ending: how it ended.
        signs: sign or picture -> whether it was there, for all that was asked for.
    """

    ending: Ending
    signs: tuple[tuple[str, bool], ...]

    def as_seen(self, outputs: Iterable[str]) -> Seen:
        """Return it as it is entered in a log; ``outputs`` are those that the monitor was on."""
        ending = self.ending
        stop = StopSeen(ending.kind, ending.seconds) if ending.kind and not ending.stayed else None
        said = dict(self.signs)
        lit = {
            output: MappingProxyType({s: said[picture(output, s)] for s in STAGES if picture(output, s) in said})
            for output in outputs
        }
        signs = {name: YES if was else NO for name, was in self.signs if not is_picture(name)}
        return Seen(
            ending.reached,
            ending.not_reached,
            stop,
            ending.stayed,
            MappingProxyType({output: stages for output, stages in lit.items() if stages}),
            MappingProxyType(signs),
        )


Finding = RunSeen | str
"""What one reading shows: what was seen of a run; the word of a look; where a number lies."""
