"""The coordinator's list for one record: its findings, its disputes, and a walk on its ground."""

from shared_core.geodesy import grid_of_epsg
from shared_core.records.base import Finding, Known, Record, Standing
from shared_core.records.disputes import dispute_findings
from shared_core.records.levels import zero_of
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.walk_ground import walk_findings_with_ground
from sync_server.grids import Terrain, ground_at


def review(
    standing: Standing[Record], known: Known, *, terrain: Terrain | None = None
) -> list[Finding]:
    """Return all that a coordinator should look at about a record, what is disputed first."""
    found = [*dispute_findings(standing), *standing.record.findings(known)]
    if terrain is not None and isinstance(standing.record, ShorelineWalk):
        found += _on_the_ground(standing.record, known, terrain)
    return found


def _on_the_ground(walk: ShorelineWalk, known: Known, terrain: Terrain) -> list[Finding]:
    """Return what the ground under a walk says of it; nothing without a stage and its zero."""
    zero = zero_of(known, walk.site, walk.gauge or "", walk.seen_at)
    if zero is None or walk.stage_before_m is None:
        return []
    projection = grid_of_epsg(terrain.epsg).projection

    def ground(lat: float, lon: float) -> float | None:
        return ground_at(terrain, *projection.forward(lat, lon))

    level_m = walk.stage_before_m + zero.record.zero_m
    return list(walk_findings_with_ground(walk, level_m, ground))
