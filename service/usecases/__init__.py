"""What a caller can ask, one module a resource. Use cases know ports, not databases or HTTP."""
