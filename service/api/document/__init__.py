"""The OpenAPI document: Litestar's paths, msgspec's schemas, and what resources declare beside their controllers."""
