"""Readings as rows of NDJSON or CSV → series, with pointers back to the rows."""

import csv
import re
from array import array
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import partial
from io import BytesIO, TextIOWrapper
from typing import Any, NamedTuple

import msgspec
from msgspec import UNSET, Struct, UnsetType

from service.api.strict.decoding import Shape, decode
from service.api.strict.grammar import NotJsonError
from service.api.strict.shapes import check_shape
from service.engine.documents import (
    CONTROL,
    MOST_SERIES,
    Flaw,
    FlawedDocumentError,
    Name,
    PackageId,
    Remark,
    Series,
    Stage,
    UnitName,
    counted,
    did_you_mean,
    gathered,
    is_in_range,
    listed,
    quoted,
)

LONGEST_ROW = 16 * 1024
"""Characters of CSV, bytes of NDJSON; a reading with the longest names takes fewer than a thousand."""
_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]*)?([eE][+-]?[0-9]+)?\Z")
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]{1,9},[0-9]{1,9}")
OTHER_MARKS = (";", "\t")
"""What spreadsheets write between cells in place of a comma."""
_WHOLE = re.compile(r"[0-9]{1,9}\Z")
_NOT_UTF_8 = re.compile("[\udc80-\udcff]")
"""The lone surrogates that `surrogateescape` decodes bytes into that are not UTF-8."""


class ReadingRow(Struct, frozen=True, forbid_unknown_fields=True):
    """One row: a reading."""

    characteristic: Name
    unit: UnitName
    value: float
    package: PackageId | UnsetType = UNSET
    stage: Stage | UnsetType = UNSET
    remark: Remark | UnsetType = UNSET


COLUMNS = ReadingRow.__struct_fields__
_ROW = Shape(ReadingRow)


Row = ReadingRow | Sequence[Flaw]
"""A reading, or the flaws of its row with pointers inside the row."""


class Columns(NamedTuple):
    """Series, and for each value in them the number of its row, from 0."""

    series: list[Series]
    rows: Sequence[Sequence[int]]

    def row_flaw(self, flaw: Flaw) -> Flaw:
        """A flaw of the series with its pointer turned into one at the row: /ROW/MEMBER."""
        _, member, number, what, *rest = [*flaw.at.split("/"), "", ""]
        if member != "series" or not number.isdigit():
            return flaw
        place = int(rest[0]) if rest[0].isdigit() else 0
        one = {"values": "value", "packages": "package", "remarks": "remark"}.get(what, what)
        return Flaw(flaw.code, flaw.text, f"/{self.rows[int(number)][place]}/{one}", flaw.rule)


class _Column:
    """A series being collected; it stores columns only, not rows, whose objects would take many times the bytes of the body."""

    def __init__(self, first: ReadingRow) -> None:
        """Start a column for rows with the same characteristic, unit and stage as this one."""
        self.first = first
        # An array takes 8 bytes a row number, a list of ints some 36.
        self.values, self.packages, self.rows = list[float](), list[str](), array("L")
        self.remarks: list[Remark] = []

    def append_row(self, number: int, row: ReadingRow) -> None:
        """Append a reading and the number of its row."""
        self.values.append(row.value)
        if row.package:
            self.packages.append(row.package)
        self.remarks.append(row.remark or "")
        self.rows.append(number)

    def series(self, method: str | UnsetType) -> Series:
        """The series of all appended rows."""
        first, remarks = self.first, self.remarks
        return Series(
            characteristic=first.characteristic,
            unit=first.unit,
            values=self.values,
            packages=UNSET if first.package is UNSET else self.packages,
            stage=first.stage,
            remarks=remarks if any(remarks) else UNSET,
            method=method,
        )


def columns_of(rows: Iterable[Row], method: str | UnsetType) -> Columns:
    """Collect rows into series: rows that differ only in value, package and remark are one series, in the order sent.

    method  the test method of all rows, from the query

    Raises FlawedDocumentError with the first 1,000 flaws, at /ROW/MEMBER.
    """
    columns: dict[Any, _Column] = {}
    if flaws := gathered(_fill_columns(rows, columns)):
        raise FlawedDocumentError(flaws)
    return Columns([column.series(method) for column in columns.values()], [column.rows for column in columns.values()])


def _fill_columns(rows: Iterable[Row], columns: dict[Any, _Column]) -> Iterator[Flaw]:
    """Append each reading to its column; yields the flaws of single rows and of all rows together."""
    number = -1
    for number, row in enumerate(rows):
        if not isinstance(row, ReadingRow):
            yield from (flaw.below(f"/{number}") for flaw in row)
            continue
        key = (row.characteristic, row.unit, row.stage, row.package is UNSET)
        column = columns.get(key)
        if column is None:
            # The rest is not read: rows that all differ would take a hundred times their bytes, a column for each.
            if len(columns) == MOST_SERIES:
                what = f"The rows have more than {MOST_SERIES} combinations of characteristic, unit and stage."
                yield Flaw("too-many-kinds", f"{what} Send them in several batches.", f"/{number}")
                return
            column = columns[key] = _Column(row)
        column.append_row(number, row)
    if number < 0:
        yield Flaw("too-short", "The body has no reading. Add a row for each.", "")


def check_lines(body: bytes, most_readings: int) -> None:
    """Raise FlawedDocumentError where there are more lines than readings are accepted at a time; no row is parsed then."""
    lines = body.count(b"\n") + body.count(b"\r") - body.count(b"\r\n")
    # One more, as the first line may be a header.
    if lines > most_readings + 1:
        remedy = "Send them in several batches, or have MARKERYARN_MOST_READINGS raised."
        text = f"The body has {lines} rows, and at most {most_readings} readings are taken at a time. {remedy}"
        raise FlawedDocumentError([Flaw("too-many-readings", text, "")])


def rows_of_ndjson(body: bytes) -> Iterator[Row]:
    """Parse NDJSON, one object per line, lazily."""
    for line in iter(partial(BytesIO(body).readline, LONGEST_ROW + 1), b""):
        # Read with a bound rather than split: a body without line breaks would else be decoded as one row of megabytes.
        if len(line) > LONGEST_ROW:
            yield [_too_long()]
            return
        try:
            yield decode(line.removesuffix(b"\n"), _ROW)
        except (FlawedDocumentError, NotJsonError) as error:
            yield error.flaws


def rows_of_csv(body: bytes) -> Iterator[Row]:
    """Parse CSV lazily: a header, then one reading per line; empty lines are skipped.

    Raises FlawedDocumentError for flaws of the header.
    """
    lines = _lines(body)
    header = _header(next(lines, (1, ""))[1])
    for number, line in lines:
        if len(line) > LONGEST_ROW:
            yield [_in_line(number, _too_long())]
            return
        cells = _cells(line)
        row = _row(header, cells, line) if isinstance(cells, list) else [cells]
        yield row if isinstance(row, ReadingRow) else [_in_line(number, flaw) for flaw in row]


def _in_line(number: int, flaw: Flaw) -> Flaw:
    """The flaw with the number of its line in front, as an editor or a spreadsheet counts it: the header is line 1."""
    return Flaw(flaw.code, f"Line {number}: {flaw.text}", flaw.at)


def _lines(body: bytes) -> Iterator[tuple[int, str]]:
    """The non-empty lines without their line ends, each with its number, from 1.

    One at a time, as a list of them would take many times their bytes.
    """
    # Spreadsheets write a byte-order mark and other line ends. surrogateescape, so that one bad row is reported as that row.
    text = TextIOWrapper(BytesIO(body), encoding="utf-8-sig", errors="surrogateescape", newline=None)
    for number, line in enumerate(iter(partial(text.readline, LONGEST_ROW + 1), ""), 1):
        if line != "\n":
            yield number, line.removesuffix("\n")


def _cells(line: str) -> list[str] | Flaw:
    """The cells of a line, or the flaw by which it can't be parsed."""
    if not line.isascii() and _NOT_UTF_8.search(line):
        return Flaw("not-csv", "The row is not in UTF-8. Save the whole file in UTF-8.", "")
    try:
        # A line by itself: given the whole file, one open quotation mark would swallow all rows after it.
        (cells,) = csv.reader([line], strict=True)
    except csv.Error:
        text = (
            "The row can't be read as CSV. Write a comma between two cells, a text with a comma in quotation marks, and no "
            "line break inside a cell."
        )
        return Flaw("not-csv", text, "")
    return cells


def _too_long() -> Flaw:
    """The flaw of a row that is too long; parsing stops there, as the start of the next row is unknown."""
    return Flaw("too-long", f"The row is longer than {LONGEST_ROW} characters. Break the line after each reading.", "")


def _header(line: str) -> list[str]:
    """The names of the columns. Raises FlawedDocumentError for flaws of the header."""
    if len(line) > LONGEST_ROW:
        raise FlawedDocumentError([_too_long()])
    cells = _cells(line) if line else []
    if isinstance(cells, Flaw):
        raise FlawedDocumentError([cells])
    if flaws := gathered(_header_flaws(cells)):
        raise FlawedDocumentError(flaws)
    return cells


def _row(header: Sequence[str], cells: Sequence[str], line: str) -> Row:
    """The reading of a row, or its flaws."""
    if len(cells) != len(header):
        return [Flaw("cells-differ-in-number", _other_number(header, cells), "")]
    # CSV has no other way to leave a member out than an empty cell.
    document = {name: _cell(name, text) for name, text in zip(header, cells, strict=True) if text != ""}
    # One search of the line covers all its cells.
    if not CONTROL.search(line) and (row := _valid_row(document)):
        return row
    return check_shape(document, ReadingRow) or msgspec.convert(document, ReadingRow)


def _other_number(header: Sequence[str], cells: Sequence[str]) -> str:
    """What is wrong with a row that has more or fewer cells than the header: most often a decimal comma."""
    place = header.index("value") if "value" in header else len(cells)
    number = ",".join(cells[place : place + 2])
    if len(cells) == len(header) + 1 and _DECIMAL_COMMA.fullmatch(number):
        return f"`{number}` is not a number. Write {number.replace(',', '.')}."
    return f"The row has {counted(len(cells), 'cell')}, and the header {len(header)}. Leave a cell empty where it has no value."


def _valid_row(document: Mapping[str, object]) -> ReadingRow | None:
    """The reading, where shape and range are valid; None where the row has to be searched for flaws."""
    try:
        row = msgspec.convert(document, ReadingRow)
    except msgspec.ValidationError:
        return None
    return row if is_in_range(row.value) else None


def _header_flaws(header: Sequence[str]) -> Iterator[Flaw]:
    """The flaws of a header: unknown, repeated and missing columns."""
    seen = set[str]()
    for name in header:
        if name not in COLUMNS:
            remedy = did_you_mean(name, COLUMNS) or f" Use {listed(COLUMNS, 'and')}."
            if any(mark in name for mark in OTHER_MARKS):
                remedy = " Write a comma between two columns."
            yield Flaw("unknown-column", f"There is no column {quoted(name)}.{remedy}", "")
        elif name in seen:
            yield Flaw("column-twice", f"The column `{name}` is in the header twice. Remove one of the two.", "")
        seen.add(name)
    for name in ("characteristic", "unit", "value"):
        if name not in seen:
            yield Flaw("column-missing", f"The header has no column `{name}`. Add it.", "")


def _cell(name: str, text: str) -> object:
    """The cell as a number where the column needs one and it is one; else the text, which then has a flaw."""
    if name == "value" and _NUMBER.match(text):
        return float(text)
    return int(text) if name == "stage" and _WHOLE.match(text) else text
