"""The server process: one worker that serves the application."""
