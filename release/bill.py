#!/usr/bin/env python3
"""Writes the bill of materials of the program as CycloneDX 1.5 (ECMA-424's forerunner), as JSON, to standard output.

    python3 release/bill.py

What is in the program, and nothing else: normal dependencies of all platforms with the features that are on, by what `cargo metadata`
says of the kept lock file; digests are those of the lock file. No time and no random number, so that one commit has one bill.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]


def main() -> int:
    command = ["cargo", "metadata", "--format-version", "1", "--locked"]
    told = json.loads(subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout)
    packages = {package["id"]: package for package in told["packages"]}
    nodes = {node["id"]: node for node in told["resolve"]["nodes"]}
    root = told["resolve"]["root"]
    lock = tomllib.loads((ROOT / "Cargo.lock").read_text())
    digests = {(own["name"], own["version"]): own.get("checksum") for own in lock["package"]}

    def built_in(package: str) -> list[str]:
        """Dependencies that become part of what is built, or build it; those of tests do not."""
        wanted = (None, "build")
        return sorted(own["pkg"] for own in nodes[package]["deps"] if any(kind["kind"] in wanted for kind in own["dep_kinds"]))

    found, waiting = {root}, [root]
    while waiting:
        for package in built_in(waiting.pop()):
            if package not in found:
                found.add(package)
                waiting.append(package)

    def address(package: str) -> str:
        return f"pkg:cargo/{packages[package]['name']}@{packages[package]['version']}"

    def component(package: str) -> dict[str, Any]:
        own = packages[package]
        entry: dict[str, Any] = {
            "type": "application" if package == root else "library", "bom-ref": address(package), "name": own["name"],
            "version": own["version"], "purl": address(package),
        }
        if own.get("description"):
            entry["description"] = " ".join(own["description"].split())
        if own.get("license"):
            # Older manifests part licences by a slash.
            entry["licenses"] = [{"expression": own["license"].replace("/", " OR ").replace("  ", " ")}]
        if digest := digests.get((own["name"], own["version"])):
            entry["hashes"] = [{"alg": "SHA-256", "content": digest}]
        if own.get("repository"):
            entry["externalReferences"] = [{"type": "vcs", "url": own["repository"]}]
        return entry

    others = sorted(found - {root}, key=address)
    lacking = [address(package) for package in others if "licenses" not in component(package) or "hashes" not in component(package)]
    if lacking:
        print(f"bill.py: without a licence or a digest: {lacking}", file=sys.stderr)
        return 1
    bill = {
        "bomFormat": "CycloneDX", "specVersion": "1.5", "version": 1, "metadata": {"component": component(root)},
        "components": [component(package) for package in others],
        "dependencies": [
            {"ref": address(package), "dependsOn": sorted(map(address, built_in(package)))} for package in [root, *others]
        ],
    }
    json.dump(bill, sys.stdout, indent=1, ensure_ascii=False)
    print()
    return 0


if __name__ == "__main__":
    sys.exit(main())
