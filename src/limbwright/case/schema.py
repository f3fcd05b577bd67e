"""The published JSON Schema of a case file, and the reference tables of docs/case-file.md made of it.

    python docs/schema/write.py

writes both; a test compares them with the code.
"""

import json
from functools import cache
from typing import Any

from limbwright.case.case import SCHEMA_VERSION

SCHEMA_ID = f"urn:limbwright:case:{SCHEMA_VERSION}"
DIALECT = "https://json-schema.org/draft/2020-12/schema"


@cache
def _definitions() -> dict[str, Any]:
    from limbwright.case.adapter import case_type

    schema = case_type().json_schema(mode="validation")
    _trim(schema)
    return schema


def case_schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of a case file."""
    schema = _definitions()
    root = {"$schema": DIALECT, "$id": SCHEMA_ID, **schema, "title": "Limbwright case file"}
    root["required"] = ["schema_version", *root["required"]]
    root["properties"] = {
        **root["properties"],
        "schema_version": {**root["properties"]["schema_version"], "const": SCHEMA_VERSION},
    }
    return root


def case_schema_text() -> str:
    """The schema as it is committed in docs/schema."""
    return json.dumps(case_schema(), indent=2, ensure_ascii=False) + "\n"


def reference_text() -> str:
    """Markdown: one table for each kind of object in a case file, in the order the case reaches them."""
    schema = case_schema()
    parts = [_table("Case", schema)]
    waiting = _references(schema["properties"])
    seen: list[str] = []
    while waiting:
        name = waiting.pop(0)
        if name in seen:
            continue
        seen.append(name)
        definition = schema["$defs"][name]
        parts.append(_table(name, definition) if "properties" in definition else _words(name, definition))
        waiting += _references(definition.get("properties", {}))
    return "\n".join(parts)


def description_of(owner: type, field: str) -> str:
    """What the schema says about one field of a stored value; empty when it says nothing."""
    schema = _definitions()
    definition = schema if owner.__name__ == schema["title"] else schema["$defs"].get(owner.__name__, {})
    return str(definition.get("properties", {}).get(field, {}).get("description", ""))


def _trim(node: Any) -> None:
    """Drop the titles made of field names, and join lines of descriptions: both are noise to a reader."""
    if isinstance(node, list):
        for member in node:
            _trim(member)
    elif isinstance(node, dict):
        if isinstance(node.get("description"), str):
            node["description"] = " ".join(node["description"].split())
        for name, member in node.items():
            if name == "properties":
                for field in member.values():
                    field.pop("title", None)
            _trim(member)


def _references(node: Any) -> list[str]:
    if isinstance(node, list):
        return [name for member in node for name in _references(member)]
    if isinstance(node, dict):
        own = [node["$ref"].rpartition("/")[2]] if isinstance(node.get("$ref"), str) else []
        return own + [name for member in node.values() for name in _references(member)]
    return []


def _table(name: str, definition: dict[str, Any]) -> str:
    rows = [
        f"\n### {name}\n",
        f"{definition.get('description', '')}\n",
        "| Key | Holds | Needed | Meaning |",
        "|---|---|---|---|",
    ]
    required = definition.get("required", [])
    for key, field in definition["properties"].items():
        needed = "yes" if key in required else _default(field)
        rows.append(f"| `{key}` | {_kind(field)} | {needed} | {field.get('description', '')} |")
    return "\n".join(rows) + "\n"


def _words(name: str, definition: dict[str, Any]) -> str:
    words = ", ".join(f"`{word}`" for word in definition["enum"])
    return f"\n### {name}\n\n{definition.get('description', '')} One of: {words}.\n"


def _default(field: dict[str, Any]) -> str:
    default = field.get("default")
    if isinstance(default, bool | int | float) or (isinstance(default, str) and default):
        return f"no; {json.dumps(default)}"
    return "no"


PLAIN_KINDS = {"string": "text", "integer": "whole number", "boolean": "true or false", "number": "number"}


def _kind(field: dict[str, Any]) -> str:
    if "$ref" in field:
        name = field["$ref"].rpartition("/")[2]
        return f"[{name}](#{name.lower()})"
    if "anyOf" in field:
        return " or ".join(_kind(one) for one in field["anyOf"] if one != {"type": "null"})
    if field.get("format") == "date":
        return "day, YYYY-MM-DD"
    return _collection(field) or PLAIN_KINDS[field["type"]]


def _collection(field: dict[str, Any]) -> str:
    if "prefixItems" in field:
        return f"array of {len(field['prefixItems'])}: {', '.join(map(_kind, field['prefixItems']))}"
    if field["type"] == "array":
        return f"array of {_kind(field['items'])}"
    if field["type"] == "object":
        return f"object: {_kind(field['propertyNames'])} → {_kind(field['additionalProperties'])}"
    return ""
