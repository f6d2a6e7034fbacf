"""python -m lightsim.cli, where the command lightsim is not on the path."""

from lightsim.cli.main import app

app(prog_name="lightsim")
