"""A trend as a chart in SVG, without scripts or style sheets, legible without colour and by screen readers.

A point beyond its limits is a diamond instead of a disc; lines differ by their dashes and have labels beside them.
"""

from collections.abc import Iterator, Sequence
from html import escape
from math import ceil, floor, log10
from typing import NamedTuple

from msgspec import UnsetType

from service.engine.documents import counted
from service.engine.numbers import brief, exact, with_unit
from service.engine.trends.documents import LotPoint, Trend

WIDTH, HEIGHT = 1040, 420
LEFT, RIGHT, TOP, BOTTOM = 90, 720, 50, 340
MOST_LABELS = 8
"""Most labels on an axis, so that they do not overlap."""
LINE_HEIGHT = 15
SMALL = 1e-3
"""Numbers below this magnitude are written with an exponent."""
LINE = 'stroke="#111" fill="none"'
MARK_ATTRIBUTES = {
    "axis": LINE,
    "tick": LINE,
    "mean": LINE,
    "centre": LINE,
    "control": f'{LINE} stroke-dasharray="8 4"',
    "limit": f'{LINE} stroke-dasharray="2 3" stroke-width="2"',
    "lot": 'fill="#111"',
    "beyond": 'fill="#fff" stroke="#111" stroke-width="2"',
}
"""The appearance of each sort of mark. Attributes, since a page with a strict content security policy ignores styles."""


class Level(NamedTuple):
    """A horizontal line of the chart with its label."""

    sort: str
    """`centre`, `control` or `limit`."""
    words: str
    value: float


class Scale(NamedTuple):
    """The mapping from lots and values to coordinates of the page."""

    low: float
    high: float
    step: float
    """Distance between two ticks, in the unit of the values."""
    lots: int

    def x(self, number: int) -> float:
        """The x coordinate of the lot with this index, from 0."""
        return LEFT + (RIGHT - LEFT) * (number + 0.5) / self.lots

    def y(self, value: float) -> float:
        """The y coordinate of a value."""
        return BOTTOM - (BOTTOM - TOP) * (value - self.low) / (self.high - self.low)

    @property
    def ticks(self) -> Sequence[float]:
        """The values of the ticks, ascending."""
        # Multiples of the step, each rounded for itself, so that the last tick has no sum of rounding errors.
        first = round(self.low / self.step)
        return [float(f"{number * self.step:.12g}") for number in range(first, round(self.high / self.step) + 1)]


def chart(trend: Trend) -> str:
    """The chart as an SVG document; for a trend without lots, one that states that there are none."""
    words = escape(trend.characteristic.replace("_", " "))
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-labelledby="title desc" '
        f'font-family="sans-serif" font-size="13" fill="#111"><title id="title">Means of {words} by lot</title>'
        f'<desc id="desc">{escape(_description(trend))}</desc>'
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>'
        f'<text x="{LEFT}" y="26" font-weight="bold">Means of {words} by lot</text>'
    )
    if not trend.lots:
        return f'{head}<text x="{LEFT}" y="{TOP + LINE_HEIGHT}">There is no lot in this period.</text></svg>'
    levels = list(_levels(trend))
    # The limits are in the scale, so that a distant limit is drawn too, at the price of a flatter line of means.
    scale = scale_of([lot.mean for lot in trend.lots] + [level.value for level in levels], len(trend.lots))
    parts = (*_axes(trend, scale), *_lines(levels, scale, trend.unit), *_points(trend, scale))
    return head + "".join(parts) + "</svg>"


def scale_of(values: Sequence[float], lots: int) -> Scale:
    """A scale from a multiple of the step below all values to one above them; the step is 1, 2 or 5 times a power of ten.

    It has some five to ten steps.
    """
    low, high = min(values), max(values)
    width = high - low or abs(high) or 1.0
    power = 10.0 ** floor(log10(width / 5))
    step = next(power * factor for factor in (1, 2, 5, 10) if width / (power * factor) <= MOST_LABELS)
    bottom, top = floor(low / step), ceil(high / step)
    # No value lies on the frame, where its mark would be cut or cover the axis.
    if bottom * step == low:
        bottom -= 1
    if top * step == high:
        top += 1
    return Scale(bottom * step, top * step, step, lots)


def _description(trend: Trend) -> str:
    """The content of the chart as sentences, for screen readers."""
    parts = [f"{counted(len(trend.lots), 'lot')} with {counted(trend.readings, 'reading')}."]
    if not isinstance(trend.mean, UnsetType):
        parts.append(f"The mean of all readings is {_figure(trend.mean, trend.unit)}.")
    parts += [f"The {level.words} is {_figure(level.value, trend.unit)}." for level in _levels(trend)]
    parts += [signal.text for signal in trend.signals]
    if trend.lots and not trend.signals:
        parts.append("Nothing speaks against a process that runs evenly.")
    return " ".join(parts)


def _levels(trend: Trend) -> Iterator[Level]:
    """The horizontal lines of the chart, those of the trend that it has."""
    if not isinstance(trend.control, UnsetType):
        yield Level("control", "upper control limit", trend.control.upper)
        yield Level("centre", "centre", trend.control.centre)
        yield Level("control", "lower control limit", trend.control.lower)
    if not isinstance(trend.limits, UnsetType):
        for words, limit in (("upper limit", trend.limits.upper), ("lower limit", trend.limits.lower)):
            if not isinstance(limit, UnsetType):
                yield Level("limit", f"{words} of a reading", limit)


def _axes(trend: Trend, scale: Scale) -> Iterator[str]:
    """Both axes with ticks, labels and unit."""
    yield f'<path {_mark("axis")} d="M{LEFT} {TOP}V{BOTTOM}H{RIGHT}"/>'
    for tick in scale.ticks:
        y = _coordinate(scale.y(tick))
        yield f'<path {_mark("tick")} d="M{LEFT - 5} {y}h5"/>'
        yield f'<text x="{LEFT - 9}" y="{y}" text-anchor="end" dominant-baseline="middle">{_numeral(tick)}</text>'
    every = -(-len(trend.lots) // MOST_LABELS)
    for number, lot in enumerate(trend.lots):
        if number % every == 0:
            x = _coordinate(scale.x(number))
            yield f'<path {_mark("tick")} d="M{x} {BOTTOM}v5"/>'
            yield f'<text x="{x}" y="{BOTTOM + 20}" text-anchor="middle">{escape(_short_id(lot.lot))}</text>'
    unit = "" if trend.unit in {"1", ""} else f", {escape(trend.unit)}"
    middle = (TOP + BOTTOM) / 2
    what = f"mean of {escape(trend.characteristic.replace('_', ' '))}{unit}"
    yield f'<text transform="translate(22 {_coordinate(middle)}) rotate(-90)" text-anchor="middle">{what}</text>'
    yield f'<text x="{_coordinate((LEFT + RIGHT) / 2)}" y="{BOTTOM + 46}" text-anchor="middle">lot, in order of time</text>'


def _lines(levels: Sequence[Level], scale: Scale, unit: str) -> Iterator[str]:
    """Each horizontal line with its label beside it; labels that would overlap are moved down."""
    free = float(TOP - LINE_HEIGHT)
    for level in sorted(levels, key=lambda level: -level.value):
        y = scale.y(level.value)
        free = max(y, free + LINE_HEIGHT)
        yield f'<path {_mark(level.sort)} d="M{LEFT} {_coordinate(y)}H{RIGHT}"/>'
        words = escape(f"{level.words} {_figure(level.value, unit)}")
        yield f'<text x="{RIGHT + 8}" y="{_coordinate(free)}" dominant-baseline="middle">{words}</text>'


def _points(trend: Trend, scale: Scale) -> Iterator[str]:
    """The means of the lots, joined in their order, each with a title that names lot, moment and figures."""
    places = [(scale.x(number), scale.y(lot.mean)) for number, lot in enumerate(trend.lots)]
    path = "L".join(f"{_coordinate(x)} {_coordinate(y)}" for x, y in places)
    yield f'<path {_mark("mean")} d="M{path}"/>'
    beyond = {name for signal in trend.signals if signal.code == "beyond-control-limit" for name in signal.lots}
    for (x, y), lot in zip(places, trend.lots, strict=True):
        title = f"<title>{escape(_point_title(lot, trend.unit))}</title>"
        if lot.lot in beyond:
            yield f'<path {_mark("beyond")} d="M{_coordinate(x)} {_coordinate(y)}m0 -8l8 8l-8 8l-8 -8z">{title}</path>'
        else:
            yield f'<circle {_mark("lot")} cx="{_coordinate(x)}" cy="{_coordinate(y)}" r="4">{title}</circle>'


def _mark(sort: str) -> str:
    """The attributes of a mark of this sort."""
    return f'class="{sort}" {MARK_ATTRIBUTES[sort]}'


def _point_title(lot: LotPoint, unit: str) -> str:
    return f"Lot {lot.lot}, {lot.at}: mean {_figure(lot.mean, unit)} of {counted(lot.readings, 'reading')}"


def _figure(value: float, unit: str) -> str:
    """A number with its unit, to six significant digits."""
    return with_unit(_numeral(float(f"{value:.6g}")), unit)


def _numeral(value: float) -> str:
    """A number to six significant digits, with an exponent only where it would otherwise begin with many zeros."""
    return f"{value:.6g}" if 0 < abs(value) < SMALL else brief(exact(value))


def _short_id(lot: str) -> str:
    """A lot's id for the axis, at most ten characters: the end of a longer one, in which neighbouring lots differ."""
    return lot if len(lot) <= 10 else f"…{lot[-9:]}"  # ten characters fit beside those of the next label


def _coordinate(place: float) -> str:
    """A coordinate to a hundredth of a unit."""
    return f"{place:.2f}".rstrip("0").rstrip(".")
