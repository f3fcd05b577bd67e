"""Writes `profile.py` and its page in the docs out of the table of settings, so that nothing is typed twice.

After a change of `tables/settings.csv` run

    python -m limbwright.practice.declaration > profile.txt
    mv profile.txt src/limbwright/practice/profile.py

A test compares the files with the table.
"""

import textwrap
from itertools import groupby

from limbwright.practice.setting import Kind, Setting, settings, toml_text

HEADER = '''"""The practice profile: one field per setting.

Written by `declaration.py`; to change it, change `tables/settings.csv`.
"""

from dataclasses import dataclass, fields
from typing import Literal

from limbwright.practice.consistency import require_consistent
from limbwright.practice.setting import Answer, setting
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile(Value):
    """A surgeon's own numbers; `Profile()` holds our defaults. Sources: `limbwright.practice.setting`."""
'''

FOOTER = '''
    def __post_init__(self) -> None:
        for field in fields(self):
            object.__setattr__(self, field.name, setting(field.name).checked(getattr(self, field.name)))
        require_consistent({field.name: getattr(self, field.name) for field in fields(self)})

    def differences(self) -> dict[str, tuple[Answer, Answer]]:
        """Settings that are not our default, in the table's order: this profile's answer, our default."""
        pairs = {f.name: (getattr(self, f.name), setting(f.name).default) for f in fields(self)}
        return {name: pair for name, pair in pairs.items() if pair[0] != pair[1]}
'''


def _type(setting: Setting) -> str:
    return {
        Kind.NUMBER: "float",
        Kind.WHOLE_NUMBER: "int",
        Kind.YES_OR_NO: "bool",
        Kind.CHOICE: f"Literal[{', '.join(toml_text(c) for c in setting.choices)}]",
    }[setting.kind]


def _default(setting: Setting) -> str:
    return str(setting.default) if setting.kind is not Kind.CHOICE else toml_text(setting.default)


def profile_module_text() -> str:
    """Source text of `profile.py`."""
    parts = [HEADER]
    for group, members in groupby(settings(), key=lambda s: s.group):
        parts.append(f"\n    # {group}\n")
        for one in members:
            unit = f" [{one.unit}]" if one.unit else ""
            words = textwrap.wrap(f'"""{one.meaning}.{unit}"""', width=106)
            parts.append(f"    {one.name}: {_type(one)} = {_default(one)}\n")
            parts.append("".join(f"    {line}\n" for line in words))
    return "".join(parts) + FOOTER


def settings_page_text() -> str:
    """Markdown tables of all settings, one per group, as they stand in docs/practice-profile.md."""
    parts = []
    for group, members in groupby(settings(), key=lambda s: s.group):
        parts.append(f"\n### {group}\n\n| Setting | Default | Range | What it decides | Source |\n")
        parts.append("|---|---|---|---|---|\n")
        for one in members:
            unit = f" {one.unit}" if one.unit else ""
            span = f"{one.low:g} to {one.high:g}" if one.low is not None else one.expected()
            default = f"{toml_text(one.default)}{unit}"
            parts.append(f"| `{one.name}` | {default} | {span} | {one.meaning}. | {one.source} |\n")
    return "".join(parts).lstrip("\n")


if __name__ == "__main__":
    print(profile_module_text(), end="")
