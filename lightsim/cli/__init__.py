"""The command line: lightsim.cli:app. Loads nothing heavy; the commands import what they need when they run."""

from lightsim.cli.main import app

__all__ = ["app"]
