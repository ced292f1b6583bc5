"""Access control: Host names, keys and their scopes, rate limits, load limits."""
