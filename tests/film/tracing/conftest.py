import sys
from pathlib import Path

# `drawn_films`, films drawn from formulas, is shared by the rooms that read films.
sys.path.insert(0, str(Path(__file__).parents[1]))
