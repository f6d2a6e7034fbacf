"""The page: one self-contained HTML file with findings, pictures, every figure, and the rig file itself."""
