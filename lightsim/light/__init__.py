"""Rays, the light cloud, and the arrivals at a point."""
