"""The ranking in a process of its own, so that no page waits for it.

``Ranker`` weighs a job and says what to do next, and keeps what the next time can use.  ``RankerProcess`` answers the
same, from a process (``worker``) that it starts, starts anew when it died, and stops.  Between the two goes frozen data
(``parcel``).
"""

from halfsplit.ranking.parcel import REST_SECONDS
from halfsplit.ranking.process import BrokenOffError, RankerDiedError, RankerProcess
from halfsplit.ranking.ranker import Ranker

__all__ = ["REST_SECONDS", "BrokenOffError", "Ranker", "RankerDiedError", "RankerProcess"]
