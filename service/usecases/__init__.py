"""What a caller can ask, by subject. Use cases know ports, not databases or HTTP."""
