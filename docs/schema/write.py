"""Writes the JSON Schema of a case file and the tables of its reference page; run it after changing a value.

python docs/schema/write.py
"""

from pathlib import Path

from limbwright.case.schema import case_schema_text, reference_text

DOCS = Path(__file__).parent.parent
BEGIN = "<!-- tables: written by docs/schema/write.py -->"


def main() -> None:
    """Write both files."""
    (DOCS / "schema" / "case.schema.json").write_text(case_schema_text(), encoding="utf-8")
    page = DOCS / "case-file.md"
    words = page.read_text(encoding="utf-8").partition(BEGIN)[0]
    page.write_text(f"{words}{BEGIN}\n{reference_text()}", encoding="utf-8")


if __name__ == "__main__":
    main()
