"""How severely the lots of a line are inspected."""
