"""Marker Yarn judges lots of cordage against the grades they are sold as, exactly and with reasons."""

__version__ = "0.1.0"
