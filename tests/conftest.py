"""Property tests are not timed: on a busy machine any example may take long."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
