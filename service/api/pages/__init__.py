"""The service itself: the OpenAPI document and its page, health, metrics."""
