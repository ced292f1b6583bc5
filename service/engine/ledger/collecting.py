"""The readings of a lot as columns, one for all series that agree in everything but their values, and the places of batches."""

from collections.abc import Mapping
from typing import NamedTuple

import msgspec
from msgspec import UNSET, Struct, UnsetType

from service.engine.documents import Remark, Series
from service.engine.lot import STRUCK


class SeriesColumn(Struct):
    """The readings of all series with one head, from any number of batches."""

    head: Series
    """What the series have in common: a series without values, packages and remarks."""
    values: list[float]
    packages: list[str] | None
    remarks: list[Remark] | None = None
    """None while all are empty."""
    struck: int = 0
    """Number of struck readings."""

    def copy(self) -> "SeriesColumn":
        """A copy that can be changed without changing this one."""
        packages = None if self.packages is None else self.packages.copy()
        remarks = None if self.remarks is None else self.remarks.copy()
        return SeriesColumn(self.head, self.values.copy(), packages, remarks, self.struck)

    def add(self, series: Series) -> None:
        """Append the readings of a series with this head."""
        before = len(self.values)
        self.values += series.values
        if self.packages is not None and not isinstance(series.packages, UnsetType):
            self.packages += series.packages
        remarks = None if isinstance(series.remarks, UnsetType) or not any(series.remarks) else series.remarks
        # A column of remarks begins with the first one that is not empty: most lots of 100,000 readings have none.
        if remarks and self.remarks is None:
            self.remarks = [""] * before
        if self.remarks is not None:
            self.remarks += remarks or [""] * len(series.values)

    def strike(self, place: int) -> None:
        """Mark the reading at an index as struck. Striking it again changes nothing."""
        # It stays in the column, so that pointers to the readings behind it remain valid.
        if self.remarks is None:
            self.remarks = [""] * len(self.values)
        self.struck += self.remarks[place] != STRUCK
        self.remarks[place] = STRUCK

    def series(self) -> Series:
        """All readings of the column as one series, which shares its lists with the column."""
        return msgspec.structs.replace(
            self.head,
            values=self.values,
            packages=UNSET if self.packages is None else self.packages,
            remarks=UNSET if self.remarks is None else self.remarks,
        )


class BatchPlaces(NamedTuple):
    """The places of a batch's items among those of the lot, so that a later strike finds them."""

    series: list[tuple[object, int, int]]
    """(key of the column, index of the first reading in it, number of readings), one a series."""
    others: Mapping[str, tuple[int, int]]
    """(index of the first item, number of items) by `counts`, `declared` and `dates`; only those that the batch has."""


def column_key(series: Series) -> object:
    """The column of a series: series with equal keys are joined into one."""
    uncertainty = None if isinstance(series.uncertainty, UnsetType) else msgspec.structs.astuple(series.uncertainty)
    return (
        series.characteristic,
        series.unit,
        series.stage or 1,
        series.method,
        uncertainty,
        series.packages_per_specimen,
        series.calibration,
        # A column of package ids has one a value, so series with and without ids cannot be joined.
        series.packages is UNSET,
    )
