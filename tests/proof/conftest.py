import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))  # sensitive_boards.py is shared by the tests here
