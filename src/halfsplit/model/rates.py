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
        comeback: a machine that comes back with a fault that had not shown: the work again and the trust, in cents.
        note: noting down and turning to the next thing, for each act, in minutes.
        trust: what it costs beside the machine itself to hand one back that does not do its work, in cents.
        mishap: a plug or seat left worse than it was found, until it is found and mended, in cents.
        paste: thermal paste for one cooler, in cents.
        worth_new: what a usual machine is worth when it is new, in cents.
        years_to_half: the years in which a machine loses half of its worth.
        moving: setting another machine up and moving the data over, in cents.
        diagnosis: the ceiling for finding the faults where the owner agreed to no sum, in cents.
        ceiling: the same for the whole job, in cents.
        risk: expected damage above which one act is a stop point, in cents.
        try_first: how likely a part of the shelf is bad from where on it is tried before it is relied on.
        stop_share: the share of a usual machine's worth from which on replacing it is offered.
        call_share: the share of the diagnosis ceiling at which the owner is called.
    """

    hour: float = 60_00.0
    place_hour: float = 2_00.0
    day: float = 5_00.0
    comeback: float = 100_00.0
    note: float = 0.5
    trust: float = 30_00.0
    mishap: float = 25_00.0
    paste: float = 1_00.0
    worth_new: float = 700_00.0
    years_to_half: float = 4.0
    moving: float = 80_00.0
    diagnosis: float = 80_00.0
    ceiling: float = 250_00.0
    risk: float = 5_00.0
    try_first: float = 0.05
    stop_share: float = 0.5
    call_share: float = 0.8

    def worth(self, age_years: float) -> float:
        """Return what a machine is worth at an age, in cents."""
        return float(self.worth_new * 0.5 ** (age_years / self.years_to_half))

    def replacing(self, age_years: float) -> float:
        """Return what it costs to put one as good in its place, in cents."""
        return self.worth(age_years) + self.moving

    def broken(self, age_years: float) -> float:
        """Return what it costs to hand a machine back that does not do its work, in cents."""
        return self.replacing(age_years) + self.trust

    def of(self, minutes: Minutes) -> float:
        """Return what an act costs in time, in cents: hands-on, noting it down, place taken, days waited."""
        hands = (minutes.hands_on + self.note) * self.hour / MINUTES_AN_HOUR
        place = max(minutes.place, minutes.hands_on) * self.place_hour / MINUTES_AN_HOUR
        return hands + place + minutes.days * self.day
