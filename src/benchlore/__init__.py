"""benchlore compiles bench knowledge into the cheapest troubleshooting procedure for this shop."""

__version__ = "0.1.0"
