"""benchlore compiles bench knowledge into the cheapest troubleshooting procedure for this shop."""

from pathlib import Path

from benchlore.kernel_cache import keep_kernels

__version__ = "0.1.0"

keep_kernels(Path(__file__).parent)  # before anything imports Numba, which reads its settings once
