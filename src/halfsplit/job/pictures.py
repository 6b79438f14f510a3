"""Pictures of a run, as signs: one for each output and each stage at which there may be one."""

STAGES = {"self_test": "memory_passes", "system": "system_loads"}
"""Stage of a picture -> the rung that must be reached for it: a board draws once its memory passed."""


def picture(output: str, stage: str) -> str:
    """Return the name of a picture's bit."""
    return f"picture:{output}:{stage}"


def is_picture(name: str) -> bool:
    """Return whether a name is that of a picture's bit, and not of a sign."""
    return name.startswith("picture:")
