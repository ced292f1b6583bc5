"""Trends: a characteristic over lots."""
