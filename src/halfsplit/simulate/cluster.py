"""Work shared out on a cluster, where its library is installed."""

from collections.abc import Callable, Sequence
from typing import TypeVar

from halfsplit.errors import Mistake, UsageError

_Item = TypeVar("_Item")
_Result = TypeVar("_Result")

CONNECT_SECONDS = 10


def map_on_cluster(work: Callable[[_Item], _Result], items: Sequence[_Item], address: str) -> list[_Result]:
    """Return what work makes of each item, in order, done on a cluster.

    Args:
        work: a function that the cluster's workers can import.
        items: what it is done to.
        address: of the cluster's scheduler, such as ``tcp://10.0.0.1:8786``.

    Raises:
        UsageError: HS910, the library is not installed; HS911, nothing answers at the address.
    """
    try:
        from distributed import Client  # noqa: PLC0415  only a cluster needs it
    except ImportError:
        should, do = "it comes with the extra 'cluster'", "Install 'halfsplit[cluster]', or leave --cluster out"
        raise UsageError([Mistake("--cluster", "HS910", "Dask is not installed", should, do)]) from None
    try:
        client = Client(address, timeout=CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError) as error:
        so, should = f"no scheduler answers at '{address}' ({type(error).__name__})", "it is the address of one"
        raise UsageError(
            [Mistake("--cluster", "HS911", so, should, "Start it with 'dask scheduler', and give its address")]
        ) from error
    with client:
        found: list[_Result] = client.gather(client.map(work, items, pure=False))
    return found
