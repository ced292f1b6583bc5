"""The HTTP layer: controllers, strict decoding, problem details, and the OpenAPI document that is generated from them."""
