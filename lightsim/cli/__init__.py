"""The command line: lightsim.cli:app. Loads nothing heavy; the commands import what they need when they run."""

import os

# Products of matrices are small here: threads cost them more than they bring. To be said before numpy is loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from lightsim.cli.main import app

__all__ = ["app"]
