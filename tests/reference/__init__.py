"""Second opinion by an installed general-purpose renderer."""
