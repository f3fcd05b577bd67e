import sys
from pathlib import Path

# `film_files`, which makes small invented film files, is shared with the fuzz run.
sys.path.insert(0, str(Path(__file__).parent))
