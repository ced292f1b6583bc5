"""Readings that come a row at a time, as NDJSON or CSV → columns, with pointers back to the rows."""

import csv
import re
from collections.abc import Iterator, Mapping, Sequence
from io import StringIO
from typing import Any, NamedTuple

import msgspec
from msgspec import UNSET, Struct, UnsetType

from service.api.strict.decoding import NotJsonError, Shape, check_shape, decode
from service.engine.evidence import Remark, Series, Stage
from service.engine.flaws import Flaw, FlawedDocumentError, did_you_mean, listed, quoted
from service.engine.texts import Name, PackageId, UnitName

MOST_FLAWS = 1000
_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]*)?([eE][+-]?[0-9]+)?\Z")
_WHOLE = re.compile(r"[0-9]{1,9}\Z")


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


class Columns(NamedTuple):
    """Series, and of each value the number of its row, from 0."""

    series: list[Series]
    rows: list[list[int]]

    def in_rows(self, flaw: Flaw) -> Flaw:
        """A flaw of the series as one of the row that it comes from."""
        _, member, number, what, *rest = [*flaw.at.split("/"), "", ""]
        if member != "series" or not number.isdigit():
            return flaw
        place = int(rest[0]) if rest[0].isdigit() else 0
        one = {"values": "value", "packages": "package", "remarks": "remark"}.get(what, what)
        return Flaw(flaw.code, flaw.text, f"/{self.rows[int(number)][place]}/{one}", flaw.rule)


def columns_of(rows: Sequence[ReadingRow], method: str | UnsetType) -> Columns:
    """Rows that agree in all but value, package and remark stand in one series, in the order in which they came."""
    gathered: dict[Any, list[int]] = {}
    for number, row in enumerate(rows):
        gathered.setdefault((row.characteristic, row.unit, row.stage, row.package is UNSET), []).append(number)
    series = [_series([rows[number] for number in numbers], method) for numbers in gathered.values()]
    return Columns(series, list(gathered.values()))


def _series(rows: Sequence[ReadingRow], method: str | UnsetType) -> Series:
    first, remarks = rows[0], [row.remark or "" for row in rows]
    return Series(
        characteristic=first.characteristic,
        unit=first.unit,
        values=[row.value for row in rows],
        packages=UNSET if first.package is UNSET else [row.package or "" for row in rows],
        stage=first.stage,
        remarks=remarks if any(remarks) else UNSET,
        method=method,
    )


def rows_of_ndjson(body: bytes) -> list[ReadingRow]:
    """One object a line. Raises FlawedDocumentError with every flaw, at /LINE/MEMBER, lines counted from 0."""
    rows, flaws = list[ReadingRow](), list[Flaw]()
    for number, line in enumerate(body.removesuffix(b"\n").split(b"\n")):
        try:
            rows.append(decode(line, _ROW))
        except (FlawedDocumentError, NotJsonError) as error:
            flaws += [flaw.below(f"/{number}") for flaw in error.flaws]
        if len(flaws) > MOST_FLAWS:
            break
    _raise_any(flaws)
    return rows


def rows_of_csv(body: bytes) -> list[ReadingRow]:
    """A header, then a reading a line. Raises FlawedDocumentError with every flaw, at /ROW/COLUMN, rows counted from 0."""
    try:
        lines = csv.reader(StringIO(body.decode("utf-8-sig"), newline=""), strict=True)
        header, *records = [line for line in lines if line] or [[]]
    except (UnicodeDecodeError, csv.Error) as error:
        text = "The body can't be read as CSV in UTF-8. Write commas between the columns, and a text with a comma in quotes."
        raise FlawedDocumentError([Flaw("not-csv", text, "")]) from error
    _raise_any(list(_header_flaws(header)))
    rows, flaws = list[ReadingRow](), list[Flaw]()
    for number, record in enumerate(records):
        document = {name: _cell(name, text) for name, text in zip(header, record, strict=False) if text != ""}
        found = list(_record_flaws(document, header, record))
        flaws += [flaw.below(f"/{number}") for flaw in found]
        if not found:
            rows.append(msgspec.convert(document, ReadingRow))
        if len(flaws) > MOST_FLAWS:
            break
    _raise_any(flaws)
    return rows


def _record_flaws(document: Mapping[str, object], header: Sequence[str], record: Sequence[str]) -> Iterator[Flaw]:
    if len(record) != len(header):
        text = f"The row has {len(record)} cells, and the header {len(header)}. Leave cells empty rather than out."
        yield Flaw("cells-differ-in-number", text, "")
    else:
        yield from check_shape(document, ReadingRow)


def _header_flaws(header: Sequence[str]) -> Iterator[Flaw]:
    """Columns that nobody knows, that stand twice, or that are missing."""
    for number, name in enumerate(header):
        if name not in COLUMNS:
            remedy = did_you_mean(name, COLUMNS) or f" Known are {listed(COLUMNS, 'and')}."
            yield Flaw("unknown-column", f"There is no column {quoted(name)}.{remedy}", "")
        elif name in header[:number]:
            yield Flaw("column-twice", f"The column `{name}` stands twice in the header. Leave one.", "")
    for name in ("characteristic", "unit", "value"):
        if name not in header:
            yield Flaw("column-missing", f"The header has no column `{name}`. Add it.", "")


def _cell(name: str, text: str) -> object:
    """A number where one is asked for and written; else the text, which then has a flaw."""
    if name == "value" and _NUMBER.match(text):
        return float(text)
    return int(text) if name == "stage" and _WHOLE.match(text) else text


def _raise_any(flaws: Sequence[Flaw]) -> None:
    """Refuse the body where there are flaws."""
    if flaws:
        raise FlawedDocumentError(flaws)
