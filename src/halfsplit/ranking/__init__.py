"""The ranking in a process of its own, so that no page waits for it.

``ranker.Ranker`` weighs a job and says what to do next, and keeps what the next time can use.  ``RankerProcess`` does
the same in a process (``worker``) that it starts, starts anew when it died, and stops.  Between the two goes frozen
data (``parcel``).  The first is not named here, so that the pages come up without all that ranks.
"""

from halfsplit.ranking.parcel import REST_SECONDS
from halfsplit.ranking.process import BrokenOffError, RankerDiedError, RankerProcess
from halfsplit.ranking.ranks import Ranks

__all__ = ["REST_SECONDS", "BrokenOffError", "RankerDiedError", "RankerProcess", "Ranks"]
