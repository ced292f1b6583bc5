"""Readings as a lot collects them: columns of one head each, and where the items of a batch are among those of the lot."""

from collections.abc import Mapping
from typing import NamedTuple

import msgspec
from msgspec import UNSET, Struct, UnsetType

from service.engine.documents import Remark, Series
from service.engine.lot import STRUCK


class Column(Struct):
    """Readings with one head, from however many batches."""

    head: Series
    values: list[float]
    packages: list[str] | None
    remarks: list[Remark] | None = None
    """Only where one is not empty."""
    struck: int = 0

    def copy(self) -> "Column":
        """Another one that can be changed for itself."""
        packages = None if self.packages is None else self.packages.copy()
        remarks = None if self.remarks is None else self.remarks.copy()
        return Column(self.head, self.values.copy(), packages, remarks, self.struck)

    def add(self, series: Series) -> None:
        """The readings of a series with this head, behind the others."""
        before = len(self.values)
        self.values += series.values
        if self.packages is not None and not isinstance(series.packages, UnsetType):
            self.packages += series.packages
        told = None if isinstance(series.remarks, UnsetType) or not any(series.remarks) else series.remarks
        if told and self.remarks is None:
            self.remarks = [""] * before
        if self.remarks is not None:
            self.remarks += told or [""] * len(series.values)

    def strike(self, place: int) -> None:
        """Mark a reading as struck; it stays where it is."""
        if self.remarks is None:
            self.remarks = [""] * len(self.values)
        self.struck += self.remarks[place] != STRUCK
        self.remarks[place] = STRUCK

    def series(self) -> Series:
        """All of them as one series."""
        return msgspec.structs.replace(
            self.head,
            values=self.values,
            packages=UNSET if self.packages is None else self.packages,
            remarks=UNSET if self.remarks is None else self.remarks,
        )


class Placed(NamedTuple):
    """Where the items of a batch stand among those of the lot."""

    series: list[tuple[object, int, int]]
    """The key of its column, the first place, and how many, of each series."""
    others: Mapping[str, tuple[int, int]]
    """The first place and how many, by `counts`, `declared` and `dates` where it has any."""


def head_key(series: Series) -> object:
    """What readings must have in common to stand in one column; packages that are named and ones that aren't stand apart."""
    uncertainty = None if isinstance(series.uncertainty, UnsetType) else msgspec.structs.astuple(series.uncertainty)
    return (
        series.characteristic,
        series.unit,
        series.stage or 1,
        series.method,
        uncertainty,
        series.packages_per_specimen,
        series.calibration,
        series.packages is UNSET,
    )
