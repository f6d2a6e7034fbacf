"""Charts of figures: lightsim.picture.charts. Importing this package alone loads no drawing library."""
