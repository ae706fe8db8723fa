"""Makes the folder `validation` importable, and says what is needed for it."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
