"""Settings for every test."""

from hypothesis import settings

# A busy machine is no failure: what has to be fast is measured in bench/.
settings.register_profile("halfsplit", deadline=None, print_blob=True)
settings.load_profile("halfsplit")
