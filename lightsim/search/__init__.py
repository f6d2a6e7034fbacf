"""Asking again with other numbers: lightsim.search.vary. Importing this package alone loads nothing."""
