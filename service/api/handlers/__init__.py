"""What each route does: it translates, and a use case decides."""
