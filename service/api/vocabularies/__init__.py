"""The vocabularies that documents use: characteristics, faults, units."""
