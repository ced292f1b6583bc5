"""Readings that come a row at a time, as NDJSON or CSV → columns, with pointers back to the rows."""

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
    did_you_mean,
    gathered,
    is_in_range,
    listed,
    quoted,
)

LONGEST_ROW = 16 * 1024
"""Characters of CSV, bytes of NDJSON; a reading with the longest names has less than a thousand."""
_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]*)?([eE][+-]?[0-9]+)?\Z")
_WHOLE = re.compile(r"[0-9]{1,9}\Z")
_NOT_UTF_8 = re.compile("[\udc80-\udcff]")
"""What bytes that are not UTF-8 are read as."""


class ReadingRow(Struct, frozen=True, forbid_unknown_fields=True):
    """One reading."""

    characteristic: Name
    unit: UnitName
    value: float
    package: PackageId | UnsetType = UNSET
    stage: Stage | UnsetType = UNSET
    remark: Remark | UnsetType = UNSET


COLUMNS = ReadingRow.__struct_fields__
_ROW = Shape(ReadingRow)


Row = ReadingRow | Sequence[Flaw]
"""A reading, or what is wrong with its row, by places within that."""


class Columns(NamedTuple):
    """Series, and of each value the number of its row, from 0."""

    series: list[Series]
    rows: Sequence[Sequence[int]]

    def row_flaw(self, flaw: Flaw) -> Flaw:
        """A flaw of the series as one of the row that it comes from."""
        _, member, number, what, *rest = [*flaw.at.split("/"), "", ""]
        if member != "series" or not number.isdigit():
            return flaw
        place = int(rest[0]) if rest[0].isdigit() else 0
        one = {"values": "value", "packages": "package", "remarks": "remark"}.get(what, what)
        return Flaw(flaw.code, flaw.text, f"/{self.rows[int(number)][place]}/{one}", flaw.rule)


class _Column:
    """A series in the making: nothing of a row is kept but what goes into it."""

    def __init__(self, first: ReadingRow) -> None:
        """Of rows like this one."""
        self.first = first
        self.values, self.packages, self.rows = list[float](), list[str](), array("L")
        self.remarks: list[Remark] = []

    def append_row(self, number: int, row: ReadingRow) -> None:
        """One more reading, and the number of its row."""
        self.values.append(row.value)
        if row.package:
            self.packages.append(row.package)
        self.remarks.append(row.remark or "")
        self.rows.append(number)

    def series(self, method: str | UnsetType) -> Series:
        """All that was taken."""
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
    """Rows that agree in all but value, package and remark stand in one series, in the order in which they came.

    Raises FlawedDocumentError with the first 1,000 flaws, at /ROW/MEMBER.
    """
    columns: dict[Any, _Column] = {}
    if flaws := gathered(_fill_columns(rows, columns)):
        raise FlawedDocumentError(flaws)
    return Columns([each.series(method) for each in columns.values()], [each.rows for each in columns.values()])


def _fill_columns(rows: Iterable[Row], columns: dict[Any, _Column]) -> Iterator[Flaw]:
    """Puts each reading into its column; what is wrong with the others, and with all of them together."""
    number = -1
    for number, row in enumerate(rows):
        if not isinstance(row, ReadingRow):
            yield from (flaw.below(f"/{number}") for flaw in row)
            continue
        key = (row.characteristic, row.unit, row.stage, row.package is UNSET)
        column = columns.get(key)
        if column is None:
            # What comes behind is not looked at: rows that all differ would take a hundred times their bytes.
            if len(columns) == MOST_SERIES:
                what = f"The rows up to here are of more than {MOST_SERIES} kinds by characteristic, unit and stage."
                yield Flaw("too-many-kinds", f"{what} Send some of the kinds apart.", f"/{number}")
                return
            column = columns[key] = _Column(row)
        column.append_row(number, row)
    if number < 0:
        yield Flaw("too-short", "There is no reading in the body. Add a row for each, or send nothing.", "")


def check_lines(body: bytes, most_readings: int) -> None:
    """Raise FlawedDocumentError where there are more lines than readings are taken at a time: then no row is read at all."""
    lines = body.count(b"\n") + body.count(b"\r") - body.count(b"\r\n")
    # The first one may be a header.
    if lines > most_readings + 1:
        remedy = "Send the rest apart, or have the limit raised."
        text = f"These are {lines} rows, and at most {most_readings} readings are taken at a time. {remedy}"
        raise FlawedDocumentError([Flaw("too-many-readings", text, "")])


def rows_of_ndjson(body: bytes) -> Iterator[Row]:
    """One object a line."""
    for line in iter(partial(BytesIO(body).readline, LONGEST_ROW + 1), b""):
        if len(line) > LONGEST_ROW:
            yield [_too_long()]
            return
        try:
            yield decode(line.removesuffix(b"\n"), _ROW)
        except (FlawedDocumentError, NotJsonError) as error:
            yield error.flaws


def rows_of_csv(body: bytes) -> Iterator[Row]:
    """A header, then a reading a line; empty lines are no rows. Raises FlawedDocumentError where the header has flaws."""
    lines = _lines(body)
    header = _header(next(lines, ""))
    for line in lines:
        if len(line) > LONGEST_ROW:
            yield [_too_long()]
            return
        cells = _cells(line)
        yield _row(header, cells, line) if isinstance(cells, list) else [cells]


def _lines(body: bytes) -> Iterator[str]:
    """The lines that are not empty, without their ends; one at a time, as all together would take many times their bytes."""
    # A file of other systems may begin with a byte-order mark, and end its lines otherwise.
    text = TextIOWrapper(BytesIO(body), encoding="utf-8-sig", errors="surrogateescape", newline=None)
    for line in iter(partial(text.readline, LONGEST_ROW + 1), ""):
        if line != "\n":
            yield line.removesuffix("\n")


def _cells(line: str) -> list[str] | Flaw:
    """The cells of a line, or why it can't be read."""
    if not line.isascii() and _NOT_UTF_8.search(line):
        return Flaw("not-csv", "The row is not in UTF-8. Write the whole file in it.", "")
    try:
        (cells,) = csv.reader([line], strict=True)
    except csv.Error:
        text = (
            "The row can't be read as CSV. Write commas between the cells, a text with a comma in quotes, and no line breaks."
        )
        return Flaw("not-csv", text, "")
    return cells


def _too_long() -> Flaw:
    """A row that nobody meant as one; it is not known where the next begins."""
    return Flaw("too-long", f"A row may have at most {LONGEST_ROW} characters. Break the line after each reading.", "")


def _header(line: str) -> list[str]:
    """The names of the columns. Raises FlawedDocumentError."""
    if len(line) > LONGEST_ROW:
        raise FlawedDocumentError([_too_long()])
    cells = _cells(line) if line else []
    if isinstance(cells, Flaw):
        raise FlawedDocumentError([cells])
    if flaws := gathered(_header_flaws(cells)):
        raise FlawedDocumentError(flaws)
    return cells


def _row(header: Sequence[str], cells: Sequence[str], line: str) -> Row:
    """The reading of a row, or what is wrong with it."""
    if len(cells) != len(header):
        text = f"The row has {len(cells)} cells, and the header {len(header)}. Leave cells empty rather than out."
        return [Flaw("cells-differ-in-number", text, "")]
    document = {name: _cell(name, text) for name, text in zip(header, cells, strict=True) if text != ""}
    if not CONTROL.search(line) and (row := _valid_row(document)):
        return row
    return check_shape(document, ReadingRow) or msgspec.convert(document, ReadingRow)


def _valid_row(document: Mapping[str, object]) -> ReadingRow | None:
    """The reading, where its shape and its number are good; None where somebody has to look."""
    try:
        row = msgspec.convert(document, ReadingRow)
    except msgspec.ValidationError:
        return None
    return row if is_in_range(row.value) else None


def _header_flaws(header: Sequence[str]) -> Iterator[Flaw]:
    """Columns that nobody knows, that stand twice, or that are missing."""
    seen = set[str]()
    for name in header:
        if name not in COLUMNS:
            remedy = did_you_mean(name, COLUMNS) or f" Known are {listed(COLUMNS, 'and')}."
            yield Flaw("unknown-column", f"There is no column {quoted(name)}.{remedy}", "")
        elif name in seen:
            yield Flaw("column-twice", f"The column `{name}` stands twice in the header. Leave one.", "")
        seen.add(name)
    for name in ("characteristic", "unit", "value"):
        if name not in seen:
            yield Flaw("column-missing", f"The header has no column `{name}`. Add it.", "")


def _cell(name: str, text: str) -> object:
    """A number where one is asked for and written; else the text, which then has a flaw."""
    if name == "value" and _NUMBER.match(text):
        return float(text)
    return int(text) if name == "stage" and _WHOLE.match(text) else text
