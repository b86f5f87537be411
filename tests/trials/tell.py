"""How trials are run one after the other; for every system."""

from __future__ import annotations


def run_all(trials, *each) -> int:
    """Runs trials that note in `trials.wrong` what is wrong, and tells of each; how many failed."""
    failed = 0
    for trial in each:
        known = len(trials.wrong)
        said = trial(trials) or "holds"
        wrong = trials.wrong[known:]
        print(f"{trial.__name__}: {said}{' - WRONG' if wrong else ''}", flush=True)
        for line in wrong[:10]:
            print(f"    {line}")
        failed += bool(wrong)
    print(f"{len(each) - failed} passed, {failed} failed")
    return failed
