"""Who and what comes in: hosts, keys and their scopes, rates, how much at a time."""
