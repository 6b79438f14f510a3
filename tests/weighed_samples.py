"""A weighed job, made up by hand, for tests of how it is told."""

from dataclasses import replace

from halfsplit.job.weighed import (
    NOT_REACHED,
    REACHED,
    STOPPED,
    UNKNOWN,
    FaultSet,
    FaultSuspicion,
    Moved,
    PartSuspicion,
    RunColumn,
    Weighed,
)

RUNGS = ("standby_power", "starts", "rails_good", "self_test", "log_in")

_SAMPLE = Weighed(
    name="restarts in games",
    rungs=tuple((rung, rung.replace("_", " ")) for rung in RUNGS),
    runs=(
        RunColumn("run_1", ("3 of 5", "games"), (REACHED,) * 5, "resets", 360.0),
        RunColumn("run_2", ("cold",), (REACHED, REACHED, UNKNOWN, STOPPED, NOT_REACHED), "stays"),
        RunColumn("run_3", ("bench",), (REACHED,) * 5, "none"),
    ),
    faults=(
        FaultSuspicion("supply_sags", "power supply sags under load", "supply", 0.04, 0.02, 0.09),
        FaultSuspicion("plug_half_in", "power plug of the card half in", "card_power_plug", 0.9, 0.72, 0.97),
        FaultSuspicion("memory_bad@memory.2", "memory module bad", "memory.2", 0.3, 0.2, 0.45),
    ),
    parts=(PartSuspicion("memory.2", "memory module 2", 0.31), PartSuspicion("card_power_plug", "plug", 0.9)),
    sets=(FaultSet(("memory_bad@memory.2", "plug_half_in"), 0.25), FaultSet(("plug_half_in",), 0.6)),
    moved=(
        Moved("plug_half_in", "run_1", "3 of 5 runs reset in games", 0.02, 0.3, 0.8),
        Moved("plug_half_in", "inspect_1", "plug half in", 0.3, 0.9, 0.25),
    ),
    log_p_readings=-12.0,
)


def weighed(**changes):
    return replace(_SAMPLE, **changes)
