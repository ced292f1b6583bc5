"""The register of instruments."""
