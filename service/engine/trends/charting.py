"""A trend as a chart in SVG: written by hand, read without colour, without a script, and by those who hear it.

A point beyond its limits is a diamond and not a disc; lines are told apart by their dashes and by what stands beside them.
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
LINE_HEIGHT = 15
SMALL = 1e-3
LINE = 'stroke="#111" fill="none"'
LOOKS = {
    "axis": LINE,
    "tick": LINE,
    "mean": LINE,
    "centre": LINE,
    "control": f'{LINE} stroke-dasharray="8 4"',
    "limit": f'{LINE} stroke-dasharray="2 3" stroke-width="2"',
    "lot": 'fill="#111"',
    "beyond": 'fill="#fff" stroke="#111" stroke-width="2"',
}
"""What each sort of mark looks like; in attributes, as a page that allows no styles of others shows these all the same."""


class Level(NamedTuple):
    """A line across the chart, and what it is."""

    sort: str
    """`centre`, `control` or `limit`."""
    words: str
    value: float


class Scale(NamedTuple):
    """Where values stand on the page."""

    low: float
    high: float
    step: float
    """From tick to tick."""
    lots: int

    def x(self, number: int) -> float:
        """Of the lot with this number, from 0."""
        return LEFT + (RIGHT - LEFT) * (number + 0.5) / self.lots

    def y(self, value: float) -> float:
        """Of this value."""
        return BOTTOM - (BOTTOM - TOP) * (value - self.low) / (self.high - self.low)

    @property
    def ticks(self) -> Sequence[float]:
        """The round values at the side, from below."""
        first = round(self.low / self.step)
        return [float(f"{number * self.step:.12g}") for number in range(first, round(self.high / self.step) + 1)]


def chart(trend: Trend) -> str:
    """The chart as an SVG document; without a lot it says so."""
    words = escape(trend.characteristic.replace("_", " "))
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-labelledby="title desc" '
        f'font-family="sans-serif" font-size="13" fill="#111"><title id="title">Means of {words} by lot</title>'
        f'<desc id="desc">{escape(_said(trend))}</desc>'
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>'
        f'<text x="{LEFT}" y="26" font-weight="bold">Means of {words} by lot</text>'
    )
    if not trend.lots:
        return f'{head}<text x="{LEFT}" y="{TOP + LINE_HEIGHT}">There is no lot in this period.</text></svg>'
    levels = list(_levels(trend))
    scale = scale_of([each.mean for each in trend.lots] + [each.value for each in levels], len(trend.lots))
    parts = (*_axes(trend, scale), *_lines(levels, scale, trend.unit), *_points(trend, scale))
    return head + "".join(parts) + "</svg>"


def scale_of(values: Sequence[float], lots: int) -> Scale:
    """From a round value below all to one above them, in steps of 1, 2 or 5 times a power of ten; five to ten steps or so."""
    low, high = min(values), max(values)
    width = high - low or abs(high) or 1.0
    power = 10.0 ** floor(log10(width / 5))
    step = next(power * factor for factor in (1, 2, 5, 10) if width / (power * factor) <= MOST_LABELS)
    bottom, top = floor(low / step), ceil(high / step)
    if bottom * step == low:
        bottom -= 1
    if top * step == high:
        top += 1
    return Scale(bottom * step, top * step, step, lots)


def _said(trend: Trend) -> str:
    """What the chart shows, in words."""
    parts = [f"{counted(len(trend.lots), 'lot')} with {counted(trend.readings, 'reading')}."]
    if not isinstance(trend.mean, UnsetType):
        parts.append(f"The mean of all readings is {_figure(trend.mean, trend.unit)}.")
    parts += [f"The {level.words} is {_figure(level.value, trend.unit)}." for level in _levels(trend)]
    parts += [signal.text for signal in trend.signals]
    if trend.lots and not trend.signals:
        parts.append("Nothing speaks against a process that runs evenly.")
    return " ".join(parts)


def _levels(trend: Trend) -> Iterator[Level]:
    """The lines across."""
    if not isinstance(trend.control, UnsetType):
        yield Level("control", "upper control limit", trend.control.upper)
        yield Level("centre", "centre", trend.control.centre)
        yield Level("control", "lower control limit", trend.control.lower)
    if not isinstance(trend.limits, UnsetType):
        for words, limit in (("upper limit", trend.limits.upper), ("lower limit", trend.limits.lower)):
            if not isinstance(limit, UnsetType):
                yield Level("limit", f"{words} of a reading", limit)


def _axes(trend: Trend, scale: Scale) -> Iterator[str]:
    """Both axes with their ticks, and what stands on them with its unit."""
    yield f'<path {_is("axis")} d="M{LEFT} {TOP}V{BOTTOM}H{RIGHT}"/>'
    for tick in scale.ticks:
        y = _at(scale.y(tick))
        yield f'<path {_is("tick")} d="M{LEFT - 5} {y}h5"/>'
        yield f'<text x="{LEFT - 9}" y="{y}" text-anchor="end" dominant-baseline="middle">{_numeral(tick)}</text>'
    named = -(-len(trend.lots) // MOST_LABELS)
    for number, lot in enumerate(trend.lots):
        if number % named == 0:
            x = _at(scale.x(number))
            yield f'<path {_is("tick")} d="M{x} {BOTTOM}v5"/>'
            yield f'<text x="{x}" y="{BOTTOM + 20}" text-anchor="middle">{escape(_short(lot.lot))}</text>'
    unit = "" if trend.unit in {"1", ""} else f", {escape(trend.unit)}"
    middle = (TOP + BOTTOM) / 2
    what = f"mean of {escape(trend.characteristic.replace('_', ' '))}{unit}"
    yield f'<text transform="translate(22 {_at(middle)}) rotate(-90)" text-anchor="middle">{what}</text>'
    yield f'<text x="{_at((LEFT + RIGHT) / 2)}" y="{BOTTOM + 46}" text-anchor="middle">lot, in order of time</text>'


def _lines(levels: Sequence[Level], scale: Scale, unit: str) -> Iterator[str]:
    """Each line across, and beside it what it is; words that would cover each other are moved apart, downwards."""
    free = float(TOP - LINE_HEIGHT)
    for level in sorted(levels, key=lambda each: -each.value):
        y = scale.y(level.value)
        free = max(y, free + LINE_HEIGHT)
        yield f'<path {_is(level.sort)} d="M{LEFT} {_at(y)}H{RIGHT}"/>'
        words = escape(f"{level.words} {_figure(level.value, unit)}")
        yield f'<text x="{RIGHT + 8}" y="{_at(free)}" dominant-baseline="middle">{words}</text>'


def _points(trend: Trend, scale: Scale) -> Iterator[str]:
    """The means, joined in their order; each says what it is."""
    places = [(scale.x(number), scale.y(each.mean)) for number, each in enumerate(trend.lots)]
    path = "L".join(f"{_at(x)} {_at(y)}" for x, y in places)
    yield f'<path {_is("mean")} d="M{path}"/>'
    beyond = {lot for signal in trend.signals if signal.code == "beyond-control-limit" for lot in signal.lots}
    for (x, y), each in zip(places, trend.lots, strict=True):
        says = f"<title>{escape(_point_said(each, trend.unit))}</title>"
        if each.lot in beyond:
            yield f'<path {_is("beyond")} d="M{_at(x)} {_at(y)}m0 -8l8 8l-8 8l-8 -8z">{says}</path>'
        else:
            yield f'<circle {_is("lot")} cx="{_at(x)}" cy="{_at(y)}" r="4">{says}</circle>'


def _is(sort: str) -> str:
    """The attributes of a mark of this sort."""
    return f'class="{sort}" {LOOKS[sort]}'


def _point_said(lot: LotPoint, unit: str) -> str:
    return f"Lot {lot.lot}, {lot.at}: mean {_figure(lot.mean, unit)} of {counted(lot.readings, 'reading')}"


def _figure(value: float, unit: str) -> str:
    """To six significant digits, with its unit."""
    return with_unit(_numeral(float(f"{value:.6g}")), unit)


def _numeral(value: float) -> str:
    """As a person writes it; with an exponent only where it would else be all zeros."""
    return f"{value:.6g}" if 0 < abs(value) < SMALL else brief(exact(value))


def _short(lot: str) -> str:
    """A lot's id at the axis: its end, which tells neighbours apart."""
    return lot if len(lot) <= 10 else f"…{lot[-9:]}"  # what stands beside its neighbour


def _at(place: float) -> str:
    """A place on the page, to a hundredth."""
    return f"{place:.2f}".rstrip("0").rstrip(".")
