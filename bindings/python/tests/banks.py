"""Banks for the tests: a made-up evening class."""

from __future__ import annotations

from typing import Any

SOUND = {
    "id": "enolate",
    "task": "resonance",
    "start": "[CH2-:1][CH:2]=[O:3]",
    "arrows": "1 -> 1-2; 2-3 -> 3",
    "answer": "[CH2:1]=[CH:2][O-:3]",
}
FAULTY = {**SOUND, "id": "enolate-uncharged", "answer": "[CH2:1]=[CH:2][O:3]"}
NESTED = {
    "id": "two-steps",
    "start": "[CH3:1][CH:2]=[O:3].[OH-:4]",
    "steps": [
        {"arrows": ["4 -> 2-4", "2-3 -> 3"], "answer": "[CH3:1][CH:2]([O-:3])[OH:4]"},
        {"arrows": ["3 -> 2-3", "2-4 -> 4"], "answer": "[CH3:1][CH:2]=[O:3].[OH-:4]"},
    ],
}


def large(items: int) -> list[dict[str, Any]]:
    """A bank of so many items, a tenth of them faulty; chains of many lengths, so that no two of them ask the same."""
    bank: list[dict[str, Any]] = []
    for number in range(items):
        tail = "C" * (1 + number % 40) + ("N" if number % 3 else "O") + "C" * (1 + number // 40 % 40)
        ring = "C" * (number // 1600 % 60)
        start = f"[CH2-:1][C:2](=[O:3]){tail}{ring}"
        charge = "" if number % 10 == 0 else "-"
        answer = f"[CH2:1]=[C:2]([O{charge}:3]){tail}{ring}"
        bank.append({"id": f"q{number}", "task": "resonance", "start": start, "arrows": "1 -> 1-2; 2-3 -> 3", "answer": answer})
    return bank
