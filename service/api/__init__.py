"""The edge of HTTP: strict decoding, problem details, routes, and the OpenAPI document that is produced from them."""
