"""The coordinator's list for one record: its findings, its disputes, and a walk on its ground."""

from shared_core.errors import UnreadableError
from shared_core.geodesy import grid_of_epsg
from shared_core.photo_folder import PhotoFolder
from shared_core.records.base import Finding, Known, Record, Standing
from shared_core.records.disputes import dispute_findings
from shared_core.records.levels import zero_of
from shared_core.records.limits import limits_at
from shared_core.records.photo_point import PhotoTaken
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.walk_ground import walk_findings_with_ground
from sync_server.grids import Terrain, ground_at
from sync_server.photo_looks import looks_of, photo_findings


def review(
    standing: Standing[Record],
    known: Known,
    *,
    terrain: Terrain | None = None,
    photos: PhotoFolder | None = None,
) -> list[Finding]:
    """Return all that a coordinator should look at about a record, what is disputed first.

    Args:
        standing: The record.
        known: What is known besides it.
        terrain: The ground model, for what it says of a walk.
        photos: The photos that have arrived, for how a photo point's picture looks.
    """
    found = [*dispute_findings(standing), *standing.record.findings(known)]
    if terrain is not None and isinstance(standing.record, ShorelineWalk):
        found += _on_the_ground(standing.record, known, terrain)
    if photos is not None and isinstance(standing.record, PhotoTaken):
        found += _of_the_picture(standing.record, known, photos)
    return found


def _of_the_picture(taken: PhotoTaken, known: Known, photos: PhotoFolder) -> list[Finding]:
    """Return what a photo point's picture looks like; nothing while it has not arrived."""
    if not photos.has(taken.sha256):
        return []
    try:
        looks = looks_of(photos.path_of(taken.sha256))
    except UnreadableError:  # taken in as a picture, and its header was one
        return []
    return list(photo_findings(looks, limits_at(known, taken.site, taken.seen_at)))


def _on_the_ground(walk: ShorelineWalk, known: Known, terrain: Terrain) -> list[Finding]:
    """Return what the ground under a walk says of it; nothing without a stage and its zero."""
    zero = zero_of(known, walk.site, walk.gauge or "", walk.seen_at)
    if zero is None or walk.stage_before_m is None:
        return []
    projection = grid_of_epsg(terrain.epsg).projection

    def ground(lat: float, lon: float) -> float | None:
        return ground_at(terrain, *projection.forward(lat, lon))

    level_m = walk.stage_before_m + zero.record.zero_m
    limits = limits_at(known, walk.site, walk.seen_at)
    return list(walk_findings_with_ground(walk, level_m, ground, limits))
