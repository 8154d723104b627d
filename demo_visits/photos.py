"""Drawn pictures that stand in for the season's photos, with the header a camera writes.

What a picture shows is what was really there, so that it can be evidence against what was typed.
Figures are drawn as strokes of our own; no font is used.
"""

import io
import random
from datetime import UTC
from typing import Final

from PIL import Image, ImageDraw

from demo_visits.acts import Act
from demo_visits.ground import grid_to_lat_lon
from demo_visits.scenario import GAUGES, PHOTO_POINTS, TARGET
from demo_visits.truth import level_at

SIZE: Final = (640, 480)
QUALITY: Final = 70
FOCAL_35MM: Final = 26
MAKER: Final = "Invented camera"

# EXIF tags (CIPA DC-008 Exif 3.0, tables 4 to 15).
_MAKE: Final = 0x010F
_EXIF_IFD: Final = 0x8769
_GPS_IFD: Final = 0x8825
_TIME_ORIGINAL: Final = 0x9003
_OFFSET_ORIGINAL: Final = 0x9011
_FOCAL_35MM: Final = 0xA405

_SKY: Final = (176, 204, 222)
_BANK: Final = (150, 140, 96)
_MUD: Final = (118, 98, 74)
_WATER: Final = (86, 106, 104)
_REED: Final = (92, 120, 60)
_PLATE: Final = (240, 240, 232)
_INK: Final = (24, 24, 24)

# Strokes of each figure in a box one wide and two high: sides of the two squares it is made of.
_STROKES: Final = {
    "0": "abcdef",
    "1": "bc",
    "2": "abged",
    "3": "abgcd",
    "4": "fgbc",
    "5": "afgcd",
    "6": "afgedc",
    "7": "abc",
    "8": "abcdefg",
    "9": "abfgcd",
}
_STROKE_ENDS: Final = {
    "a": (0, 0, 1, 0),
    "b": (1, 0, 1, 1),
    "c": (1, 1, 1, 2),
    "d": (0, 2, 1, 2),
    "e": (0, 1, 0, 2),
    "f": (0, 0, 0, 1),
    "g": (0, 1, 1, 1),
}


def figures(draw: ImageDraw.ImageDraw, place: tuple[float, float], text: str, size: float) -> None:
    """Draw figures and points from a top left corner, each ``size`` pixels wide."""
    x, y = place
    for character in text:
        if character == ".":
            draw.rectangle((x, y + 1.8 * size, x + 0.25 * size, y + 2.05 * size), fill=_INK)
            x += 0.6 * size
            continue
        for stroke in _STROKES.get(character, ""):
            x1, y1, x2, y2 = _STROKE_ENDS[stroke]
            ends = (x + x1 * size, y + y1 * size, x + x2 * size, y + y2 * size)
            draw.line(ends, fill=_INK, width=max(2, round(size / 6)))
        x += 1.5 * size


def _blank(seed: str) -> tuple[Image.Image, ImageDraw.ImageDraw, random.Random]:
    image = Image.new("RGB", SIZE, _SKY)
    return image, ImageDraw.Draw(image), random.Random(seed)


def plate_picture(seed: str, stage_m: float | None, name: str) -> Image.Image:
    """Draw a staff gauge with water at a stage [m], or dry where there is none.

    The frame holds 0.30 m of the plate, with a figure at every tenth and a mark every 10 mm.
    """
    image, draw, chance = _blank(seed)
    shown_m = 0.02 if stage_m is None else stage_m
    low_m = min(max(shown_m - 0.08, -0.04), 0.80)
    per_m = SIZE[1] / 0.30

    def row(height_m: float) -> float:
        return SIZE[1] - (height_m - low_m) * per_m

    draw.rectangle((0, 0, *SIZE), fill=_BANK)
    draw.rectangle((190, row(1.0), 450, row(0.0)), fill=_PLATE, outline=_INK)
    for hundredth in range(101):
        y = row(hundredth / 100.0)
        long = hundredth % 10 == 0
        draw.rectangle((190, y - 3, 290 if long else 240, y + 3), fill=_INK)
        if long:
            figures(draw, (315, y - 34), f"{hundredth / 100.0:.1f}", 34)
    surface = row(-0.01 if stage_m is None else stage_m)
    draw.rectangle((0, surface, *SIZE), fill=_MUD if stage_m is None else _WATER)
    for _ in range(0 if stage_m is None else 30):
        x, y = chance.uniform(0, SIZE[0]), chance.uniform(surface, SIZE[1])
        draw.line((x, y, x + chance.uniform(20, 60), y), fill=(112, 132, 130), width=2)
    figures(draw, (24, 20), name[-1], 30)  # which post: SG1 or SG2
    return image


def meter_picture(seed: str, display: str, multiplier: int) -> Image.Image:
    """Draw a meter's face: its figures in windows, what one count is worth, and the dial."""
    image, draw, chance = _blank(seed)
    draw.rectangle((0, 0, *SIZE), fill=(60, 66, 70))
    draw.ellipse((90, 10, 550, 470), fill=_PLATE, outline=_INK, width=6)
    for number, figure in enumerate(display):
        left = 140 + 60 * number
        draw.rectangle((left, 150, left + 54, 240), fill=(255, 255, 255), outline=_INK, width=3)
        figures(draw, (left + 12, 164), figure, 30)
    draw.line((250, 275, 270, 295), fill=_INK, width=4)  # a cross: times
    draw.line((250, 295, 270, 275), fill=_INK, width=4)
    figures(draw, (285, 268), str(multiplier), 18)
    draw.ellipse((285, 330, 355, 400), outline=_INK, width=3)
    turn = chance.randrange(360)
    draw.pieslice((290, 335, 350, 395), turn, turn + 20, fill=(170, 40, 40))
    return image


def view_picture(seed: str, point: str, filled: float) -> Image.Image:
    """Draw a wetland from a photo point: horizon a third from the top, water as far as filled."""
    image, draw, chance = _blank(point)  # the same hills and trees at every visit
    horizon = SIZE[1] // 3
    draw.rectangle((0, horizon, *SIZE), fill=_BANK)
    hills = [(x, horizon - chance.uniform(4, 40)) for x in range(0, SIZE[0] + 40, 40)]
    draw.polygon([(0, horizon), *hills, (SIZE[0], horizon)], fill=(126, 142, 130))
    shore = horizon + 14 + (1.0 - filled) * 150
    if filled > 0.0:
        draw.ellipse((-220, shore, SIZE[0] + 220, shore + 90 + 190 * filled), fill=_WATER)
    for _ in range(50):
        x = chance.uniform(0, SIZE[0])
        foot = horizon + 20 + chance.uniform(0, 60)
        draw.line((x, foot, x + chance.uniform(-5, 5), foot - 40), fill=_REED, width=3)
    weather = random.Random(seed)
    for _ in range(3):  # clouds differ from visit to visit
        x, y = weather.uniform(0, SIZE[0]), weather.uniform(10, horizon - 60)
        draw.ellipse((x, y, x + weather.uniform(80, 160), y + 30), fill=(226, 232, 236))
    draw.rectangle((300, horizon - 6, 312, SIZE[1]), fill=(96, 74, 52))  # the second post
    figures(draw, (20, 400), point[-1], 24)
    return image


def plot_picture(seed: str, plot: str) -> Image.Image:
    """Draw a pegged square from above, with tufts and the plot's figure on its peg."""
    image, draw, chance = _blank(seed)
    draw.rectangle((0, 0, *SIZE), fill=_MUD)
    for _ in range(90):
        x, y = chance.uniform(110, 520), chance.uniform(50, 420)
        draw.line((x, y, x + chance.uniform(-14, 14), y - 26), fill=_REED, width=4)
    draw.rectangle((100, 40, 530, 440), outline=(210, 190, 60), width=6)
    draw.rectangle((60, 380, 100, 470), fill=_PLATE, outline=_INK)
    figures(draw, (70, 395), plot[-1], 20)
    return image


def _dms(degrees: float) -> tuple[float, float, float]:
    thousandths = round(abs(degrees) * 3_600_000)
    whole, rest = divmod(thousandths, 3_600_000)
    minutes, seconds = divmod(rest, 60_000)
    return float(whole), float(minutes), seconds / 1000.0


def camera_header(act: Act) -> Image.Exif:
    """Return what the camera writes: its own clock, the receiver's place and time, and bearing."""
    header = Image.Exif()
    header[_MAKE] = MAKER
    exif = header.get_ifd(_EXIF_IFD)
    exif[_TIME_ORIGINAL] = act.stamped.strftime("%Y:%m:%d %H:%M:%S")
    offset = act.stamped.strftime("%z")
    exif[_OFFSET_ORIGINAL] = f"{offset[:3]}:{offset[3:]}"
    exif[_FOCAL_35MM] = FOCAL_35MM
    if act.position is None:
        return header
    lat, lon = grid_to_lat_lon(*act.position)
    moment = act.when.astimezone(UTC)
    gps = header.get_ifd(_GPS_IFD)
    gps[1], gps[2] = ("S" if lat < 0 else "N"), _dms(lat)
    gps[3], gps[4] = ("W" if lon < 0 else "E"), _dms(lon)
    gps[7] = (float(moment.hour), float(moment.minute), float(moment.second))
    gps[29] = moment.strftime("%Y:%m:%d")
    if "bearing_deg" in act.typed:
        gps[16], gps[17] = "T", float(act.typed["bearing_deg"])
    return header


def _stage_on_plate(act: Act) -> tuple[float | None, str]:
    gauge = act.true.get("point", act.point)
    if "stage_m" in act.true:
        return float(act.true["stage_m"]), gauge
    high_m = {post.name: post.plate_high_m for post in GAUGES}[gauge]
    return {"over_plate": high_m + 0.05, "below_zero": -0.02}.get(act.true["state"]), gauge


def _drawn(act: Act) -> Image.Image:
    if act.photo == "plate":
        return plate_picture(act.key, *_stage_on_plate(act))
    if act.photo == "meter":
        face = act.true.get("display") or act.true.get("start_display") or "871240"
        return meter_picture(act.key, face, 10 if act.point == "M2" else 1)
    if act.photo == "plot":
        return plot_picture(act.key, act.point)
    level_m = level_at(act.when)
    pegs = {post.name for post in PHOTO_POINTS}
    point = act.true.get("point", act.point)
    depth_m = 0.0 if level_m is None else level_m - 71.10
    filled = min(max(depth_m / (TARGET.level_m - 71.10), 0.0), 1.0)
    return view_picture(act.key, point if point in pegs else f"{act.site} {point}", filled)


def picture_of(act: Act) -> bytes | None:
    """Return the photo taken at an act as JPEG, the same bytes on every call; None without one."""
    if not act.photo:
        return None
    file = io.BytesIO()
    _drawn(act).save(file, "JPEG", quality=QUALITY, exif=camera_header(act))
    return file.getvalue()
