"""The OpenAPI document: Litestar's own, completed."""
