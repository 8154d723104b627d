"""Figures as SVG, for the desk and the report: drawn from plain data, the same bytes each time.

Every figure also reads in grey: gauges differ by marker, metered and estimated water by hatching.
"""

import dataclasses
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta, timezone
from typing import Any, Final

from matplotlib import dates as mdates
from matplotlib.axes import Axes

from sync_server.figure_style import (
    CLAY,
    GROUND,
    INK,
    REED,
    RIVER,
    RULE,
    RUST,
    SAND,
    SHALLOW,
    drawable,
    filled,
    legend_below,
    sheet,
    svg_of,
    swatch,
)

GAUGES: Final = (  # marker, size, colour and filling by the order of gauges; two may coincide
    ("o", 20, RIVER, RIVER),
    ("^", 52, CLAY, "none"),
    ("s", 52, REED, "none"),
    ("D", 20, RUST, RUST),
    ("v", 52, INK, "none"),
    ("P", 30, SHALLOW, SHALLOW),
)
ROOM_M: Final = 0.06  # above the highest and below the lowest level shown


@dataclasses.dataclass(frozen=True)
class Drawing:
    """A figure and what it shows in words."""

    svg: str
    alt: str


@dataclasses.dataclass(frozen=True, kw_only=True)
class GaugeMark:
    """A level [m] read at a gauge."""

    at: datetime
    level_m: float
    gauge: str
    corrected: bool = False
    used: bool = True


@dataclasses.dataclass(frozen=True, kw_only=True)
class PumpBar:
    """Water pumped between two times at a mean rate."""

    start: datetime
    end: datetime
    megalitres_per_day: float
    estimated: bool = False


@dataclasses.dataclass(frozen=True, kw_only=True)
class Hydrograph:
    """All that a hydrograph shows; the line's level is None while the pool is dry."""

    start: datetime
    end: datetime
    offset_min: int
    line: Sequence[tuple[datetime, float | None]]
    marks: Sequence[GaugeMark] = ()
    dry_at: Sequence[datetime] = ()
    zero_changes: Sequence[tuple[datetime, str]] = ()
    pumping: Sequence[PumpBar] = ()
    rain_mm: Mapping[date, float] = dataclasses.field(default_factory=dict)
    target_level_m: float | None = None


@dataclasses.dataclass(frozen=True, kw_only=True)
class PeriodBars:
    """The terms [ML] of one period, each a value and its standard uncertainty."""

    name: str
    pumped: tuple[float, float]
    rain: tuple[float, float]
    evaporation: tuple[float, float]
    residual: tuple[float, float]
    storage_change: tuple[float, float]


@dataclasses.dataclass(frozen=True, kw_only=True)
class RatePoint:
    """The residual of one period as a rate, against the mean depth of the water."""

    name: str
    depth_m: float
    mm_per_day: float
    sd_mm_per_day: float
    pumping: bool


def hydrograph(shown: Hydrograph) -> Drawing:
    """Draw rain, level and pumping over one time axis."""
    with sheet(7.0) as figure:
        rain, level, pump = figure.subplots(
            3, 1, sharex=True, gridspec_kw={"height_ratios": (1.0, 3.6, 1.1)}
        )
        _draw_rain(rain, shown)
        _draw_levels(level, shown)
        _draw_pumping(pump, shown)
        _time_axis(pump, shown)
        handles, labels = level.get_legend_handles_labels()
        if any(bar.estimated for bar in shown.pumping):
            handles += [swatch(SHALLOW), swatch(GROUND, "////")]
            labels += ["pumped, metered", "pumped, estimated"]
        legend_below(figure, handles, labels, in_a_row=4)
        return Drawing(svg_of(figure, "Water level, rain and pumping"), _hydrograph_says(shown))


def balance_bars(periods: Sequence[PeriodBars]) -> Drawing:
    """Draw what came in (up) and what went out (down) in each period, with whiskers of one sd."""
    with sheet(4.8) as figure:
        axes = figure.subplots()
        kinds = (
            ("pumped, in", RIVER, "", [p.pumped for p in periods], 1.0),
            ("rain, in", SHALLOW, "....", [p.rain for p in periods], 1.0),
            ("evaporation, out", SAND, "////", [p.evaporation for p in periods], -1.0),
            ("residual, out", CLAY, "", [p.residual for p in periods], -1.0),
        )
        for place, (label, colour, hatch, terms, sign) in enumerate(kinds):
            axes.bar(
                [number + 0.2 * (place - 1.5) for number in range(len(periods))],
                [sign * value for value, _ in terms],
                width=0.18,
                yerr=[sd for _, sd in terms],
                label=label,
                **filled(colour, hatch),
            )
        changes = [p.storage_change for p in periods]
        axes.errorbar(
            [float(number) for number in range(len(periods))],
            [value for value, _ in changes],
            yerr=[sd for _, sd in changes],
            fmt="D",
            color=INK,
            markerfacecolor=GROUND,
            capsize=2,
            label="change in storage",
        )
        axes.axhline(0.0, color=INK, linewidth=0.8)
        axes.set_xticks(range(len(periods)), [drawable(p.name) for p in periods])
        axes.grid(visible=False, axis="x")
        axes.set_ylabel("Volume [ML]")
        legend_below(figure, *axes.get_legend_handles_labels(), in_a_row=5)
        return Drawing(svg_of(figure, "Water balance by period"), _bars_say(periods))


def rates_by_depth(points: Sequence[RatePoint]) -> Drawing:
    """Draw the residual's rate of each period against mean depth, with bars of one sd."""
    with sheet(4.6) as figure:
        axes = figure.subplots()
        for pumping, marker, face, label in (
            (False, "o", RIVER, "no pumping"),
            (True, "s", GROUND, "with pumping; first wetting is in it"),
        ):
            group = [point for point in points if point.pumping is pumping]
            if group:
                axes.errorbar(
                    [point.depth_m for point in group],
                    [point.mm_per_day for point in group],
                    yerr=[point.sd_mm_per_day for point in group],
                    fmt=marker,
                    color=RIVER if not pumping else CLAY,
                    markerfacecolor=face,
                    capsize=3,
                    label=label,
                )
        _name_rates(axes, points)
        axes.axhline(0.0, color=INK, linewidth=0.8)
        axes.margins(x=0.06, y=0.1)
        axes.set_xlabel("Mean depth [m]")
        axes.set_ylabel("Residual [mm/day]")
        legend_below(figure, *axes.get_legend_handles_labels(), in_a_row=2)
        says = "; ".join(
            f"{p.name} {p.mm_per_day:.1f} ± {p.sd_mm_per_day:.1f} mm/day at {p.depth_m:.2f} m"
            for p in points
        )
        return Drawing(
            svg_of(figure, "Residual rate against mean depth"), f"Residual rates: {says}."
        )


def _name_rates(axes: Axes, points: Sequence[RatePoint]) -> None:
    """Write names above and below the bars by turns, so that neighbours do not meet."""
    for place, point in enumerate(sorted(points, key=lambda point: point.depth_m)):
        side = 1.0 if place % 2 == 0 else -1.0
        axes.annotate(
            drawable(point.name),
            (point.depth_m, point.mm_per_day + side * point.sd_mm_per_day),
            xytext=(0.0, 5.0 * side),
            textcoords="offset points",
            horizontalalignment="center",
            verticalalignment="bottom" if side > 0 else "top",
        )


# parts of the hydrograph -------------------------------------------------------------------


def _draw_rain(axes: Axes, shown: Hydrograph) -> None:
    days = sorted(day for day, amount in shown.rain_mm.items() if amount > 0)
    noons = [_number(_day_middle(day, shown.offset_min)) for day in days]
    axes.bar(noons, [shown.rain_mm[day] for day in days], width=1.4, **filled(SHALLOW))
    axes.set_ylim(0.0, max([5.0, *shown.rain_mm.values()]) * 1.1)
    axes.set_ylabel("Rain [mm]")


def _draw_levels(axes: Axes, shown: Hydrograph) -> None:
    axes.plot(
        [_number(at) for at, _ in shown.line],
        [float("nan") if level_m is None else level_m for _, level_m in shown.line],
        color=RIVER,
        linewidth=1.3,
        label="level used",
    )
    low, high = _range_of(shown)
    for place, gauge in enumerate(dict.fromkeys(mark.gauge for mark in shown.marks)):
        marker, size, edge, face = GAUGES[place % len(GAUGES)]
        used = [mark for mark in shown.marks if mark.gauge == gauge and mark.used]
        look = {"s": size, "edgecolors": edge, "facecolors": face}
        _scatter(axes, used, marker, f"gauge {drawable(gauge)}", look)
    corrected = [mark for mark in shown.marks if mark.corrected and mark.used]
    ringed = {"s": 150, "facecolors": "none", "edgecolors": RUST, "linewidths": 1.4, "zorder": 4}
    _scatter(axes, corrected, "o", "corrected reading", ringed)
    aside = [mark for mark in shown.marks if not mark.used and low <= mark.level_m <= high]
    _scatter(axes, aside, "x", "not used or doubtful", {"s": 44, "color": INK, "zorder": 4})
    if shown.dry_at:
        dry = [_number(at) for at in shown.dry_at]
        axes.plot(dry, [low + 0.01] * len(dry), "|", color=CLAY, markersize=9, label="found dry")
    if shown.target_level_m is not None:
        axes.axhline(shown.target_level_m, color=RULE, linestyle=(0, (6, 3)), label="target")
    for at, words in shown.zero_changes:
        axes.axvline(_number(at), color=RUST, linestyle=":", linewidth=1.2)
        axes.annotate(
            drawable(words), (_number(at), low), xytext=(4, 4), textcoords="offset points",
            rotation=90, fontsize=8.5, color=RUST, verticalalignment="bottom",
        )  # fmt: skip
    axes.set_ylim(low, high)
    axes.set_ylabel("Level [m above the datum]")


def _scatter(
    axes: Axes, marks: Sequence[GaugeMark], marker: str, label: str, look: Mapping[str, Any]
) -> None:
    if marks:
        times = [_number(mark.at) for mark in marks]
        levels = [mark.level_m for mark in marks]
        axes.scatter(times, levels, marker=marker, label=label, **{"zorder": 3, **look})


def _draw_pumping(axes: Axes, shown: Hydrograph) -> None:
    for bar in shown.pumping:
        hatch, colour = ("////", GROUND) if bar.estimated else ("", SHALLOW)
        start, end = _number(bar.start), _number(bar.end)
        look = filled(colour, hatch)
        axes.bar(start, bar.megalitres_per_day, width=end - start, align="edge", **look)
    axes.set_ylim(0.0, max([1.0, *(bar.megalitres_per_day for bar in shown.pumping)]) * 1.15)
    axes.set_ylabel("Pumped\n[ML/day]")


def _range_of(shown: Hydrograph) -> tuple[float, float]:
    """Return the levels between which the picture lies; a reading set aside does not stretch it."""
    levels = [mark.level_m for mark in shown.marks if mark.used]
    levels += [level_m for _, level_m in shown.line if level_m is not None]
    if shown.target_level_m is not None:
        levels.append(shown.target_level_m)
    return min(levels, default=0.0) - ROOM_M, max(levels, default=1.0) + ROOM_M


def _time_axis(axes: Axes, shown: Hydrograph) -> None:
    zone = timezone(timedelta(minutes=shown.offset_min))
    locator = mdates.AutoDateLocator(  # type: ignore[no-untyped-call]  # matplotlib's dates carry no types
        tz=zone, minticks=4, maxticks=10
    )
    axes.xaxis.set_major_locator(locator)
    form = mdates.ConciseDateFormatter(  # type: ignore[no-untyped-call]  # as above
        locator,
        tz=zone,
        formats=["%Y", "%b %Y", "%d %b", "%H:%M", "%H:%M", "%S"],
        zero_formats=["", "%b %Y", "%b %Y", "%d %b", "%H:%M", "%H:%M"],
        show_offset=False,
    )
    axes.xaxis.set_major_formatter(form)
    room = (shown.end - shown.start) / 60
    axes.set_xlim(_number(shown.start - room), _number(shown.end + room))


def _number(at: datetime) -> float:
    return float(mdates.date2num(at))  # type: ignore[no-untyped-call]  # as above


def _day_middle(day: date, offset_min: int) -> datetime:
    """Return the middle of the 24 hours that end at 09:00 standard time on a day."""
    zone = timezone(timedelta(minutes=offset_min))
    return datetime(day.year, day.month, day.day, 9, tzinfo=zone) - timedelta(hours=12)


# what they say in words -----------------------------------------------------------------------


def _hydrograph_says(shown: Hydrograph) -> str:
    wet = [(at, level_m) for at, level_m in shown.line if level_m is not None]
    zone = timezone(timedelta(minutes=shown.offset_min))
    parts = []
    if wet:
        at, peak_m = max(wet, key=lambda point: point[1])
        parts.append(f"The level peaks at {peak_m:.2f} m on {at.astimezone(zone):%Y-%m-%d}")
    for gauge in dict.fromkeys(mark.gauge for mark in shown.marks):
        count = sum(mark.gauge == gauge and mark.used for mark in shown.marks)
        parts.append(f"readings at gauge {gauge}: {count}")
    parts.append(f"readings corrected: {sum(mark.corrected for mark in shown.marks)}")
    parts.append(f"not used or doubtful: {sum(not mark.used for mark in shown.marks)}")
    parts += [f"{words} from {at.astimezone(zone):%Y-%m-%d}" for at, words in shown.zero_changes]
    pumped = [bar for bar in shown.pumping if bar.megalitres_per_day > 0]
    if pumped:
        first, last = pumped[0].start.astimezone(zone), pumped[-1].end.astimezone(zone)
        parts.append(f"pumping between {first:%Y-%m-%d} and {last:%Y-%m-%d}")
    total_mm = sum(shown.rain_mm.values())
    parts.append(f"{total_mm:.1f} mm of rain")
    return "; ".join(parts) + "."


def _bars_say(periods: Sequence[PeriodBars]) -> str:
    return " ".join(
        f"{p.name}: pumped {p.pumped[0]:.1f}, rain {p.rain[0]:.1f}, evaporation"
        f" {p.evaporation[0]:.1f}, residual {p.residual[0]:.1f}, change in storage"
        f" {p.storage_change[0]:.1f} ML."
        for p in periods
    )
