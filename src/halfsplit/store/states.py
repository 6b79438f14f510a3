"""The states of a job besides the bench (common practice)."""

from collections.abc import Mapping
from types import MappingProxyType

ON_BENCH = "on_bench"
COLLECTED = "collected"
READY = "ready"
APPROVED = "approved"

STATES: Mapping[str, str] = MappingProxyType(
    {
        ON_BENCH: "on the bench",
        "comeback": "comeback of an earlier job",
        "waiting_for_owner": "waiting for the owner's answer",
        APPROVED: "approved",
        "declined": "declined",
        "part_ordered": "part ordered",
        "part_arrived": "part arrived",
        "part_dead": "part dead on arrival",
        "part_returned": "part returned",
        "test_running": "test running",
        "on_trial": "out on trial",
        READY: "ready",
        COLLECTED: "collected",
        "uncollected": "uncollected",
    }
)
"""State -> its title."""
