"""Banks as tests of pytest."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest
from banks import FAULTY, SOUND



def project(pytester: pytest.Pytester, setting: str) -> None:
    pytester.makepyprojecttoml(f"[tool.pytest.ini_options]\n{setting}\n")
    banks = pytester.mkdir("banks")
    for name, rows in (("good", [SOUND]), ("doubtful", [SOUND, FAULTY])):
        write(banks / f"{name}.csv", rows)


def write(path: Path, rows: list[dict[str, Any]]) -> None:
    with path.open("w", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def test_each_item_is_a_test(pytester: pytest.Pytester) -> None:
    project(pytester, 'keyassay_banks = ["banks/*.csv"]')
    result = pytester.runpytest_subprocess("-p", "no:cacheprovider", "-v")
    result.assert_outcomes(passed=2, failed=1)
    result.stdout.fnmatch_lines_random(
        [
            "*doubtful.csv::enolate PASSED*",
            "*doubtful.csv::enolate-uncharged FAILED*",
            "*error: mismatched-product*",
            "*slip: head-charge-kept*",
            "*correction: *CH2:1*=*CH:2**O-:3*",
        ]
    )


def test_nothing_is_collected_without_the_setting(pytester: pytest.Pytester) -> None:
    project(pytester, "")
    result = pytester.runpytest_subprocess("-p", "no:cacheprovider")
    result.assert_outcomes()
    assert result.ret == pytest.ExitCode.NO_TESTS_COLLECTED


def test_a_bank_that_cannot_be_read_is_an_error(pytester: pytest.Pytester) -> None:
    project(pytester, 'keyassay_banks = ["banks/*.csv"]')
    (pytester.path / "banks" / "people.csv").write_text("name,room\nPaula,12\n")
    result = pytester.runpytest_subprocess("-p", "no:cacheprovider")
    result.assert_outcomes(errors=1)
    result.stdout.fnmatch_lines(["*no 'start'*"])
