"""How far the weighing of a job is: what there is to show of it now, and what there was before."""

from dataclasses import dataclass

from halfsplit.errors import Mistake
from halfsplit.job.advised import Advice
from halfsplit.job.weighed import Weighed


@dataclass(frozen=True)
class Standing:
    """How far the weighing of a job is.

    Args:
        advice: what to do next, or None as long as that is not worked out; it comes first.
        weighed: how far each fault is to be suspected, or None as long as that is not worked out.
        mistakes: why it cannot be weighed or advised on.
        is_given_up: whether it is not tried any further.
        before: the advice on the job as it stood before, or None.
        likely: what ``before`` said would come first now, or "".
        deaths: how often the ranker died on it, and was started anew.
    """

    advice: Advice | None = None
    weighed: Weighed | None = None
    mistakes: tuple[Mistake, ...] = ()
    is_given_up: bool = False
    before: Advice | None = None
    likely: str = ""
    deaths: int = 0

    @property
    def shown(self) -> str:
        """The proposal that is on the page until there is an advice, or ""."""
        return self.likely or (self.before.top if self.before is not None else "")

    @property
    def is_done(self) -> bool:
        """Whether nothing more will come."""
        return self.is_given_up or (self.weighed is not None and (self.advice is not None or bool(self.mistakes)))

    def anew(self) -> "Standing":
        """Return what is left of it when the job has gone on."""
        return Standing(before=self.advice or self.before)
