"""pytest: each item of the banks that the setting `keyassay_banks` names is a test. Without the setting nothing is collected."""

from __future__ import annotations

from fnmatch import fnmatch
from pathlib import Path
from typing import Any, Iterable, Optional

import pytest

from . import _keyassay

from ._keyassay import Finding


def pytest_addoption(parser: pytest.Parser) -> None:
    """Declares the setting."""
    words = "Banks of curved-arrow questions whose items are tests: patterns of paths from the root folder."
    parser.addini("keyassay_banks", words, type="linelist", default=[])


def pytest_collect_file(file_path: Path, parent: pytest.Collector) -> Optional[pytest.Collector]:
    """Collects a file that the setting names."""
    patterns: list[str] = parent.config.getini("keyassay_banks")
    if not patterns:
        return None
    try:
        path = file_path.relative_to(parent.config.rootpath).as_posix()
    except ValueError:
        return None
    if any(fnmatch(path, own) for own in patterns):
        return BankFile.from_parent(parent, path=file_path)
    return None


class BankFile(pytest.File):
    """A file of a bank."""

    def collect(self) -> Iterable[pytest.Item]:
        """One test an item. The file is audited as a whole, so that repeated questions are found."""
        audit = _keyassay.Bank(paths=[str(self.path)]).audit(sound=True)
        found: dict[tuple[int, str], list[Finding]] = {}
        for finding in audit.findings:
            found.setdefault((finding.line, finding.item), []).append(finding)
        for _, line, item in audit.items():
            yield BankItem.from_parent(self, name=item, line=line, findings=found.get((line, item), []))


class Faulty(Exception):
    """An item with errors."""


class BankItem(pytest.Item):
    """An item of a bank."""

    def __init__(self, *, line: int, findings: list[Finding], **more: Any) -> None:
        super().__init__(**more)
        self.line = line
        self.findings = findings

    def runtest(self) -> None:
        """Fails where the item has an error."""
        if any(own.severity == "error" for own in self.findings):
            raise Faulty

    def repr_failure(self, excinfo: Any, style: Any = None) -> Any:
        """What is wrong, the slip and the correction."""
        if not isinstance(excinfo.value, Faulty):
            return super().repr_failure(excinfo, style)
        lines: list[str] = []
        for own in self.findings:
            step = f" in step {own.step}" if own.step else ""
            lines.append(f"{own.severity}: {own.finding}{step}: {own.message}")
            lines += [f"  {name}: {text}" for name, text in (("slip", own.slip), ("correction", own.correction)) if text]
        return "\n".join(lines)

    def reportinfo(self) -> tuple[Path, int, str]:
        """Where the item stands."""
        return self.path, self.line - 1, self.name
