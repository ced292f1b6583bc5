"""Strict decoding of JSON bodies: every flaw with its JSON Pointer."""
