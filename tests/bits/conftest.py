"""Property tests without a deadline: a busy machine is not a wrong answer."""

from hypothesis import settings

settings.register_profile("bits", deadline=None)
settings.load_profile("bits")
