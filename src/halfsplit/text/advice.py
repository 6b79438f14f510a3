"""The reasons of an advice in a technician's words: why this, what each result would mean, what comes close."""

from halfsplit.job.advised import CHECK, END, REPAIR, Advice, Doubt, Leading, Proposal
from halfsplit.job.amounts import amount, length_in_words
from halfsplit.job.lines import numbered_at
from halfsplit.model.book import Book
from halfsplit.text.numbers import in_words, money_in_words

SHOWN_RESULTS = 3
CLOSE = 0.02
"""What costs no more than this share above the best is as good, in round numbers."""


def title_of(advice: Advice, name: str) -> str:
    """Return the title of something that can be done, by its id."""
    found = advice.proposal(name)
    return found.title if found is not None else name.replace("_", " ")


def named(lead: Leading, book: Book) -> str:
    """Return the title of a fault with the number of its part, where there are several ("memory module no. 2 bad")."""
    return numbered_at(lead.title, lead.fault.partition("@")[2], book)


def reasons_of(advice: Advice, proposal: Proposal, book: Book, currency: str = "") -> tuple[str, ...]:
    """Return the reasons for a proposal, one sentence each.

    Args:
        advice: the advice that it is of.
        proposal: what is proposed.
        book: the fault book.
        currency: of every sum, as in ISO 4217; "" where the bench's own is not known.
    """
    said = []
    if advice.leading:
        lead = advice.leading[0]
        said.append(f"Most suspected now: {named(lead, book)}, {in_words(lead.p)}.")
    said.append(_cost(proposal, currency))
    if proposal.kind == CHECK:
        said += _meanings(advice, proposal, book)
        if proposal.muddles:
            said.append(f"Its own work may cure or bring in: {', '.join(proposal.muddles)}.")
            said.append("If it goes well afterwards, put the suspect back before it is blamed.")
    elif proposal.kind == REPAIR:
        said.append(f"It cures something: {in_words(proposal.p)}.")
    elif proposal.kind == END:
        to_go, worth = (money_in_words(cents, currency) for cents in (advice.to_go, advice.worth))
        said.append(f"Going on would cost {to_go} on average; it is worth {worth}.")
    said += _runner_up(advice, proposal, currency)
    said += [_doubt(advice, doubt, currency) for doubt in advice.doubts[:2]]
    if advice.kept and proposal.id == advice.top:
        said.append("It stays on top: nothing else is better by a tenth.")
    return tuple(said)


def _cost(proposal: Proposal, currency: str) -> str:
    parts = [f"{_minutes(proposal.minutes.hands_on)} of hands"] if proposal.minutes.hands_on else []
    if proposal.minutes.place > proposal.minutes.hands_on + 5:
        parts.append(f"a bench place for {length_in_words(60.0 * proposal.minutes.place)}")
    if proposal.minutes.days:
        parts.append(amount(round(proposal.minutes.days), "days"))
    if proposal.price:
        parts.append(f"{money_in_words(proposal.price, currency)} for parts")
    if proposal.risk >= 1.0:
        parts.append(f"{money_in_words(proposal.risk, currency)} of expected damage")
    takes = f": {', '.join(parts)}" if parts else ""
    return f"It costs about {money_in_words(proposal.cents, currency)}{takes}."


def _minutes(minutes: float) -> str:
    return amount(round(minutes), "minutes")


def _meanings(advice: Advice, proposal: Proposal, book: Book) -> list[str]:
    said = []
    for outcome in proposal.outcomes[:SHOWN_RESULTS]:
        lead = outcome.leading[0] if outcome.leading else None
        means = f"{named(lead, book)} {in_words(lead.p)}" if lead is not None else "nothing that matters"
        then = f"; then {title_of(advice, outcome.first)}" if outcome.first else ""
        said.append(f"'{outcome.line}' ({in_words(outcome.p)}): {means}{then}.")
    return said


def _runner_up(advice: Advice, proposal: Proposal, currency: str) -> list[str]:
    other = next((each for each in advice.proposals if each.id != proposal.id), None)
    if other is None:
        return []
    more = other.total - proposal.total
    barred = next((f", but not before that is cleared: {stop.line}" for stop in other.stop_points if stop.bars), "")
    if abs(more) <= CLOSE * max(advice.to_go, 1.0):
        return [f"{_capital(other.title)} is as good, in round numbers{barred}."]
    if more < 0:
        return [f"{_capital(other.title)} would cost {money_in_words(-more, currency)} less in the end{barred}."]
    return [f"Next best: {other.title}, {money_in_words(more, currency)} more in the end{barred}."]


def _doubt(advice: Advice, doubt: Doubt, currency: str) -> str:
    return (
        f"Before money is spent: {title_of(advice, doubt.check)} would change this ({in_words(doubt.p_change)}); "
        f"going ahead without it costs {money_in_words(doubt.saves, currency)} on average."
    )


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
