"""From light to a photograph: settings, power, pulses, focus, motion, colour, heat. Importing it loads nothing."""
