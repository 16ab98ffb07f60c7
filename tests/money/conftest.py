import sys
from pathlib import Path

BENCHMARKS = Path(__file__).parents[2] / "benchmarks"
sys.path.insert(0, str(BENCHMARKS))  # random_instances.py is shared with the benchmarks
