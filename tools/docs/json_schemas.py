#!/usr/bin/env python3
"""JSON Schemas (2020-12) of every --json output, from the tables of data/interfaces.md, and of the page's messages, from the types
that page_types printed.

    tools/docs/json_schemas.py [TO]        without TO into data/schemas/json

Tests hold the tables to what the programs print, the types to the daemon's own descriptions, and these files to this script."""

import json
import pathlib
import re
import sys

SOURCE = pathlib.Path(__file__).resolve().parents[2]
DIALECT = "https://json-schema.org/draft/2020-12/schema"
WHERE = "hangtrue:json/"  # a name, not an address

PLAIN = {"number": {"type": "number"}, "whole number": {"type": "integer"}, "text": {"type": "string"},
         "true or false": {"type": "boolean"}, "object": {"type": "object"},
         "object as it was stored": {"type": ["object", "string"]},
         "list of numbers": {"type": "array", "items": {"type": "number"}},
         "list of texts": {"type": "array", "items": {"type": "string"}},
         "list of objects": {"type": "array", "items": {"type": "object"}}}


def tables(page):
    """Subcommand to the rows of its table: name, type, unit, meaning."""
    for part in re.split(r"\n## ", page)[1:]:
        named = re.match(r"`hangtrue (\w+) .*--json`", part)
        if not named:
            continue
        rows = [[cell.strip() for cell in line.split("|")[1:-1]] for line in part.splitlines() if line.startswith("|")][2:]
        yield named.group(1), [(name.strip("`"), *rest) for name, *rest in rows]


def schema_of_type(words):
    """One cell of the second column, less "optional"."""
    plain = re.sub(r" or null$", "", words)
    other = re.fullmatch(r"object as in `(\w+)`", plain)
    schema = {"$ref": WHERE + other.group(1)} if other else json.loads(json.dumps(PLAIN[plain]))
    if plain == words:
        return schema
    return {"anyOf": [schema, {"type": "null"}]}


def with_members(schema):
    """Where the members of an object, or of a list's objects, go."""
    for inner in schema.get("anyOf", [])[:1]:
        return with_members(inner)
    return schema["items"] if "items" in schema else schema


def output_schema(subcommand, rows):
    top = {"$schema": DIALECT, "$id": WHERE + subcommand, "title": f"what hangtrue {subcommand} --json prints", "type": "object"}
    places = {"": top}
    for name, type_words, unit, meaning in rows:
        optional = type_words.endswith(", optional")
        schema = schema_of_type(type_words.removesuffix(", optional"))
        schema["description"] = meaning + (f" ({unit})" if unit else "")
        before, _, member = name.rpartition(".")
        at = places[before.removesuffix("[]")]
        at.setdefault("properties", {})[member] = schema
        if not optional:
            at.setdefault("required", []).append(member)
        if "$ref" not in schema:
            places[name] = with_members(schema)
    return top


def message_schemas(types):
    """Topics and Asked, from interfaces and unions of words."""
    definitions = {}

    def of(words):
        words = words.strip()
        if words.endswith(" | null"):
            return {"anyOf": [of(words.removesuffix(" | null")), {"type": "null"}]}
        if words.endswith("[]"):
            return {"type": "array", "items": of(words.removesuffix("[]"))}
        return {"type": words} if words in ("string", "number", "boolean") else {"$ref": f"#/$defs/{words}"}

    for name, words in re.findall(r"export type (\w+) = ([^;]+);", types):
        definitions[name] = {"enum": [json.loads(word) for word in words.split(" | ")]}
    for name, body in re.findall(r"export interface (\w+) \{\n(.*?)\}", types, re.DOTALL):
        members = re.findall(r"^  (\w+)(\??): ([^;]+);", body, re.MULTILINE)
        definitions[name] = {"type": "object", "properties": {member: of(words) for member, _, words in members},
                             "required": [member for member, absent, _ in members if not absent], "additionalProperties": False}
    # What a phone may leave out is the same as null.
    asked = definitions["Asked"]
    asked["required"] = [member for member in asked["required"] if "anyOf" not in asked["properties"][member]]
    titles = {"Topics": "what the page is told: topics, each whole", "Asked": "what the page asks"}
    for name, title in titles.items():
        used, waiting = {}, [name]
        while waiting:
            each = waiting.pop()
            if each not in used:
                used[each] = definitions[each]
                waiting += re.findall(r'"#/\$defs/(\w+)"', json.dumps(definitions[each]))
        yield name.lower(), {"$schema": DIALECT, "$id": WHERE + "page-" + name.lower(), "title": title, "$ref": f"#/$defs/{name}",
                             "$defs": dict(sorted(used.items()))}


def main():
    to = pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else SOURCE / "data/schemas/json"
    to.mkdir(parents=True, exist_ok=True)
    schemas = {name: output_schema(name, rows) for name, rows in tables((SOURCE / "data/interfaces.md").read_text(encoding="utf-8"))}
    types = (SOURCE / "firmware-host/page/source/messages.ts").read_text(encoding="utf-8")
    schemas.update({"page-" + name: schema for name, schema in message_schemas(types)})
    for name, schema in schemas.items():
        (to / f"{name}.schema.json").write_text(json.dumps(schema, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
