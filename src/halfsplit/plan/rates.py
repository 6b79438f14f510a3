"""What time, waiting and mishaps cost a bench, in cents: its own figures, or honest defaults."""

from dataclasses import dataclass

from halfsplit.model.bench import Minutes

MINUTES_AN_HOUR = 60.0


@dataclass(frozen=True)
class Rates:
    """What a bench reckons with; every default is an estimate for a small shop, for the bench to overwrite.

    Args:
        hour: one hour of hands on the machine, in cents.
        place_hour: one hour of a place on the bench, in cents.
        day: one day that the owner waits, in cents.
        comeback: a machine that comes back with a fault that matters: the work again, and the trust, in cents.
        mishap: a plug or seat left worse than it was found, until it is found and mended, in cents.
        paste: thermal paste for one cooler, in cents.
        worth: what the machine is worth, in cents.
        replacing: what it costs the owner to put another machine in its place, data moved over, in cents.
        diagnosis: the owner's ceiling for finding the faults, in cents.
        ceiling: the owner's ceiling for the whole job, in cents.
        risk: expected damage above which one act is a stop point, in cents.
        stop_share: the share of the machine's worth above which replacing it is offered.
        call_share: the share of the diagnosis ceiling at which the owner is called.
    """

    hour: float = 60_00.0
    place_hour: float = 2_00.0
    day: float = 5_00.0
    comeback: float = 150_00.0
    mishap: float = 25_00.0
    paste: float = 1_00.0
    worth: float = 300_00.0
    replacing: float = 450_00.0
    diagnosis: float = 80_00.0
    ceiling: float = 250_00.0
    risk: float = 5_00.0
    stop_share: float = 0.5
    call_share: float = 0.8

    def of(self, minutes: Minutes) -> float:
        """Return what time costs, in cents: hands-on, place taken, days waited."""
        hands = minutes.hands_on * self.hour / MINUTES_AN_HOUR
        place = max(minutes.place, minutes.hands_on) * self.place_hour / MINUTES_AN_HOUR
        return hands + place + minutes.days * self.day
