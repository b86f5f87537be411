"""Write a frozen answer, or compare it with the file that the project keeps.

Every witness script makes lines of text from a source outside the project. `cargo test` reads the file; `--check`
makes the lines afresh and says where the file differs.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
WITNESS = ROOT / "corpus" / "witness"


def settle(lines: Iterable[str], path: Path, doc: str | None) -> int:
    """Write `lines` to `path`, or, asked with `--check`, compare; the exit status is 1 where they differ."""
    parser = argparse.ArgumentParser(description=(doc or "").partition("\n")[0])
    parser.add_argument("--check", action="store_true", help="compare with the frozen file and write nothing")
    check = parser.parse_args().check
    made = list(lines)
    if not check:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("".join(line + "\n" for line in made), encoding="utf-8")
        print(f"{path.name}: {len(made)} lines written")
        return 0
    kept = path.read_text(encoding="utf-8").splitlines()
    differing = [at for at, (a, b) in enumerate(zip(made, kept, strict=False), 1) if a != b]
    for at in differing[:5]:
        print(f"{path.name}:{at}\n  frozen {kept[at - 1]}\n  now    {made[at - 1]}", file=sys.stderr)
    print(f"{path.name}: {len(made)} lines made, {len(kept)} frozen, {len(differing)} differing")
    return int(bool(differing) or len(made) != len(kept))
