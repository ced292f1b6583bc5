"""What documents may name."""
