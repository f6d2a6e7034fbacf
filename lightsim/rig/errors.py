"""Errors that speak to the person who wrote the rig file."""


class RigError(ValueError):
    """A rig that cannot be used: one paragraph with file, key, what was given, what is allowed, what to try."""
