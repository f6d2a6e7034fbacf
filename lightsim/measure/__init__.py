"""Figures: what the arrivals at a point say about size, softness, highlights, falloff and loss."""
