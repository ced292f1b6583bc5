"""The document, its page, health and figures."""
