#!/usr/bin/env python3
"""Validates JSON by the schemas of a folder, with python3-jsonschema (JSON Schema 2020-12, json-schema.org).

    validate.py FOLDER        on standard input a line each: [name of the schema, output]"""

import json
import pathlib
import sys

import jsonschema

store, schemas = {}, {}
for path in pathlib.Path(sys.argv[1]).glob("*.schema.json"):
    schema = json.loads(path.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    schemas[path.name.removesuffix(".schema.json")] = store[schema["$id"]] = schema

count, wrong = 0, []
for line in sys.stdin:
    name, output = json.loads(line)
    schema = schemas[name]
    validator = jsonschema.Draft202012Validator(schema, resolver=jsonschema.RefResolver(schema["$id"], schema, store=store))
    wrong += [f"{name}: {'/'.join(map(str, error.absolute_path))}: {error.message[:200]}" for error in validator.iter_errors(output)]
    count += 1
print("\n".join(wrong[:20]) or f"{count} outputs are as their schemas say")
sys.exit(1 if wrong else 0)
