"""Pictures of a run, as signs: one for each output and each stage at which there may be one."""

STAGES = {"self_test": "memory_passes", "system": "system_loads"}
"""Stage of a picture -> the rung that must be reached for it: a board draws once its memory passed."""

STAGE_WORDS = {"self_test": "before the system", "system": "in the system"}
"""Stage of a picture -> when it is seen."""


def picture(output: str, stage: str) -> str:
    """Return the name of a picture's bit."""
    return f"picture:{output}:{stage}"


def is_picture(name: str) -> bool:
    """Return whether a name is that of a picture's bit, and not of a sign."""
    return name.startswith("picture:")


def split_picture(name: str) -> tuple[str, str]:
    """Return the output and the stage of a picture's bit."""
    _, output, stage = name.split(":")
    return output, stage
