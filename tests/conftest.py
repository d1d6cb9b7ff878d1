"""What holds for all tests: a property is judged by what it says, never by how long a busy machine takes over it."""

from hypothesis import settings

settings.register_profile("steady", deadline=None)
settings.load_profile("steady")
