"""Lots that collect what is measured of them: opening, readings, strikes, and where they stand."""
