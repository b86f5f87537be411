"""A slice of the differential cases that `cargo test` uses without Python; see `differential.py`."""

from __future__ import annotations

import json

from rdkit import RDLogger

from cases import cases
from frozen import WITNESS, settle

SEED, NUMBER = "frozen", 2_000

if __name__ == "__main__":
    RDLogger.DisableLog("rdApp.*")
    items = ({"id": f"differential-{at}", **case} for at, case in enumerate(cases(SEED, NUMBER), 1))
    lines = (json.dumps(item, ensure_ascii=False, separators=(",", ":")) for item in items)
    raise SystemExit(settle(lines, WITNESS / "differential.jsonl", __doc__))
