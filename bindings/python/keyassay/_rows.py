"""What may be given as a bank: paths, mappings, tables of other libraries."""

from __future__ import annotations

import json
import math
import os
from typing import Any, Callable, Dict, Iterable, Iterator, List, Mapping, Optional, Sequence, Tuple, Union

#: Rows of a table that are handed over at one time.
PIECE = 8192

#: A bank of questions.
BankLike = Union[str, "os.PathLike[str]", Sequence[Union[str, "os.PathLike[str]"]], Iterable[Mapping[str, Any]], Any]


def nested(row: Mapping[str, Any]) -> str:
    """A row that nests, as JSON. What is not a number is nothing."""

    def plain(value: Any) -> Any:
        if value is None or isinstance(value, (str, bool, int)):
            return value
        if isinstance(value, float):
            return None if math.isnan(value) else value
        if isinstance(value, Mapping):
            return {str(key): plain(own) for key, own in value.items()}
        if hasattr(value, "__iter__"):
            return [plain(own) for own in value]
        return str(value)

    return json.dumps(plain(row), ensure_ascii=True)


def paths_of(bank: Any) -> Optional[List[str]]:
    """The paths that a bank is, if it is any."""
    if isinstance(bank, (str, os.PathLike)):
        return [os.fspath(bank)]
    if isinstance(bank, (list, tuple)) and bank and all(isinstance(own, (str, os.PathLike)) for own in bank):
        return [os.fspath(own) for own in bank]
    return None


def rows_of(bank: Any) -> Tuple[Callable[[], Iterator[Any]], Optional[List[str]]]:
    """How the rows of a bank are begun, and its columns if it is a table."""
    table = _table_of(bank)
    if table is not None:
        columns, pieces = table
        if not _nests(pieces):
            return pieces, columns
        return lambda: _mappings(columns, pieces), None
    if isinstance(bank, Mapping):
        raise TypeError("a bank is a list of items: put the one item into a list")
    if isinstance(bank, (bytes, bytearray)) or not hasattr(bank, "__iter__"):
        kind = type(bank).__name__
        raise TypeError(f"a bank is a path, a list of paths, an iterable of mappings or a table, not {kind}")
    if iter(bank) is bank:
        return _once(bank), None
    return lambda: iter(bank), None


def _once(rows: Iterator[Any]) -> Callable[[], Iterator[Any]]:
    begun = False

    def begin() -> Iterator[Any]:
        nonlocal begun
        if begun:
            raise ValueError("the rows can be read only once: give a list of them, not an iterator")
        begun = True
        return rows

    return begin


def _mappings(columns: List[str], pieces: Callable[[], Iterator[List[List[Any]]]]) -> Iterator[Dict[str, Any]]:
    for piece in pieces():
        for cells in zip(*piece):
            yield dict(zip(columns, cells))


def _nests(pieces: Callable[[], Iterator[List[List[Any]]]]) -> bool:
    """Whether the first rows of a table hold lists."""
    for piece in pieces():
        for column in piece:
            if any(isinstance(cell, (list, tuple, dict)) or type(cell).__name__ == "ndarray" for cell in column):
                return True
        return False
    return False


def _table_of(bank: Any) -> Optional[Tuple[List[str], Callable[[], Iterator[List[List[Any]]]]]]:
    """The columns of a table, and what gives its rows piece by piece: a list of cells for each column."""
    library = (type(bank).__module__ or "").partition(".")[0]
    kind = type(bank).__name__
    if library == "pandas" and kind == "DataFrame":
        return [str(own) for own in bank.columns], lambda: _of_pandas(bank)
    if library == "polars" and kind == "LazyFrame":
        bank = bank.collect()
        kind = "DataFrame"
    if library == "polars" and kind == "DataFrame":
        return list(bank.columns), lambda: _of_polars(bank)
    if library == "pyarrow" and kind in ("Table", "RecordBatch"):
        return list(bank.schema.names), lambda: _of_arrow(bank)
    return None


def _of_pandas(frame: Any) -> Iterator[List[List[Any]]]:
    columns = [frame.iloc[:, at] for at in range(frame.shape[1])]
    for start in range(0, len(frame), PIECE):
        yield [own.iloc[start : start + PIECE].tolist() for own in columns]


def _of_polars(frame: Any) -> Iterator[List[List[Any]]]:
    for piece in frame.iter_slices(PIECE):
        yield [own.to_list() for own in piece.get_columns()]


def _of_arrow(table: Any) -> Iterator[List[List[Any]]]:
    batches = table.to_batches(max_chunksize=PIECE) if hasattr(table, "to_batches") else _slices(table)
    for batch in batches:
        yield [_cells(own) for own in batch.columns]


def _slices(batch: Any) -> Iterator[Any]:
    for start in range(0, batch.num_rows, PIECE):
        yield batch.slice(start, PIECE)


def _cells(column: Any) -> List[Any]:
    """The cells of a column; texts by way of numpy, where it is there, since that is several times as quick."""
    if str(column.type) in ("string", "large_string"):
        try:
            found: List[Any] = column.to_numpy(zero_copy_only=False).tolist()
            return found
        except ImportError:
            pass
    cells: List[Any] = column.to_pylist()
    return cells
