"""A long search as a policy: each of the best next steps is played out as a tree, and the one that costs least is done.

Budget: the ``FIRSTS`` best proposals of the advice, each followed by ``PLACES`` places of what the rule of thumb does
after every result (one step of policy iteration, exact over ``SAMPLES`` samples of how things may stand); some five
times the work of the advice.  ``./dev bench advice`` plays it beside the others.
"""

import numpy as np

from halfsplit.errors import ImpossibleReadingsError
from halfsplit.job.advise import advise_on, fold_and_weigh
from halfsplit.job.advised import PROVE, Advice
from halfsplit.job.outlook import Outlook, look_out
from halfsplit.plan import HAND_BACK, REPLACE, Grower
from halfsplit.simulate.advised import follow
from halfsplit.simulate.benches import Bench

FIRSTS = 8
PLACES = 60
SAMPLES = 200
SEARCH = "search"
_ENDS = (HAND_BACK, REPLACE)


def follow_search(bench: Bench) -> None:
    """Do the next step: what costs least when all that may follow is played out."""
    try:
        folded, posterior = fold_and_weigh(bench.job, bench.book)
    except ImpossibleReadingsError:
        bench.hand_back()
        return
    advice = advise_on(bench.job, bench.book, folded, posterior, bench.rates, kept=bench.kept)
    if advice.top not in (*_ENDS, PROVE) and bench.found:
        outlook = look_out(bench.job, folded, posterior, bench.rates, bench.kept, samples=SAMPLES)
        best = _best(advice, outlook)
    else:
        best = advice.top
    follow(bench, advice, best)


def _best(advice: Advice, outlook: Outlook) -> str:
    """Return the proposal that costs least with all that follows; an end costs what it costs."""
    thumb = outlook.thumb()
    number = {action.id: n for n, action in enumerate(outlook.situation.actions)}
    grower, nothing = Grower(thumb, outlook.waits), np.zeros(len(number), dtype=bool)
    cents = {each.id: each.total for each in advice.proposals if each.id in _ENDS}
    free = [each for each in advice.proposals if not any(stop.bars for stop in each.stop_points)]
    for each in [each for each in free if each.id in number][:FIRSTS]:
        grown = grower.after(number[each.id], outlook.situation.weights, thumb.open_now, nothing, places=PLACES)
        cents[each.id] = grown.place.cents
    return min(cents, key=lambda name: (cents[name], name))
