"""API keys: list and revoke them."""
