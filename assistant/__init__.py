"""handlamp: an offline assistant for the technician inside a packaging machine's cabinet."""

__version__ = "0.1.0"
