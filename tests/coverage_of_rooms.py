"""After the tests: lines covered per room; fails when a pure room is below its floor.

Run by `make unit` on the data file that pytest-cov has just written.
"""

import sys
from collections import defaultdict
from pathlib import Path

from coverage import Coverage

PURE = ("case", "course", "plan", "mechanics", "film", "growth", "implant", "practice", "limb")
FLOOR_PERCENT = 95.0
SOURCE = Path(__file__).parents[1] / "src" / "limbwright"


def lines_by_room(coverage: Coverage) -> dict[str, tuple[int, int]]:
    """Statements and missed statements of every room."""
    found: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    for path in sorted(SOURCE.rglob("*.py")):
        _, statements, _, missing, _ = coverage.analysis2(str(path))
        parts = path.relative_to(SOURCE).parts
        room = parts[0] if len(parts) > 1 else "base"
        found[room][0] += len(statements)
        found[room][1] += len(missing)
    return {room: (total, missed) for room, (total, missed) in found.items()}


def main() -> int:
    """Print the table; 1 when a pure room is below the floor."""
    coverage = Coverage()
    coverage.load()
    below = []
    for room, (total, missed) in lines_by_room(coverage).items():
        percent = 100.0 * (total - missed) / total if total else 100.0
        low = room in PURE and percent < FLOOR_PERCENT
        below += [room] if low else []
        print(f"{room:<10} {total:>6} lines {percent:6.1f} %{'  below ' + str(FLOOR_PERCENT) if low else ''}")
    return 1 if below else 0


if __name__ == "__main__":
    sys.exit(main())
