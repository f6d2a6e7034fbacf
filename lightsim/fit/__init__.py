"""Whether a rig fits together: what stands in the view, on the barrel, at the subject, on the leaf."""
