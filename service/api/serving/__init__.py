"""One worker that serves the application."""
