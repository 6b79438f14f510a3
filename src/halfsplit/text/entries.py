"""What an entry of a log is called by people."""


def entry_name(entry: str) -> str:
    """Return the id of an entry as people say it.

    Example:
        >>> entry_name("run_2")
        'run 2'
    """
    return entry.replace("_", " ")
