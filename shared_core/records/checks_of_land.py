"""Checks of walks, plots and trees, as data."""

from typing import Final

from shared_core.records.checks_form import Check, Limit

LAND_LIMITS: Final = (
    Limit("walk-gap", 10, "m", "from memory"),
    Limit("walk-gap-share", 0.01, "share", "from memory"),
    Limit("walk-jump", 25, "m", "from memory"),
    Limit("walk-accuracy", 0.1, "share", "from memory; open sky gives 0.02 to 0.05 (Tomaštík et al. 2017)"),
    Limit("walk-wild", 0.1, "share", "from memory"),
    Limit("walk-area-low", 0.93, "ratio", "computed"),
    Limit("walk-area-high", 1.07, "ratio", "computed"),
    Limit("walk-steady", 0.02, "m", "common practice"),
    Limit("walk-level", 0.05, "m", "computed; slope times 3 m on top"),
    Limit("plot-distance", 5, "m", "from memory; the receiver's own figure on top"),
    Limit("cover-sum", 105, "%", "computed"),
    Limit("cover-jump", 40, "%", "from memory; J. Plant Ecology 13(5):641 (2020)"),
    Limit("tree-jump", 30, "%", "from memory"),
    Limit("tree-girth", 0.1, "share", "from memory"),
)  # fmt: skip

LAND_CHECKS: Final = (
    Check("walk-too-short", 25, "shoreline_walk", "stop", "too few fixes for a ring", (), "computed"),
    Check("walk-gap", 25, "shoreline_walk", "ask", "a walk that ends away from its start", ("walk-gap", "walk-gap-share"), "from memory"),
    Check("walk-not-closed", 25, "shoreline_walk", "note", "a short gap that was not marked", (), "from memory"),
    Check("walk-accuracy", 26, "shoreline_walk", "note", "many fixes worse than 10 m", ("walk-accuracy",), "Tomaštík et al. 2017"),
    Check("walk-wild", 26, "shoreline_walk", "note", "fixes left out as jumps, speeds or poor", ("walk-wild", "walk-jump"), "from memory"),
    Check("walk-loop", 27, "shoreline_walk", "ask note", "a line that crosses itself in a loop over 20 m", (), "computed"),
    Check("walk-area", 28, "shoreline_walk", "ask", "a walked area beside the rating's", ("walk-area-low", "walk-area-high"), "computed"),
    Check("walk-steady", 28, "shoreline_walk", "ask", "a level that moved during the walk", ("walk-steady",), "common practice"),
    Check("walk-level", 29, "shoreline_walk", "ask", "a whole line off the gauge's level", ("walk-level",), "computed"),
    Check("walk-sector", 29, "shoreline_walk", "ask", "a sector off the gauge's level", ("walk-level",), "computed"),
    Check("walk-ground", 29, "shoreline_walk", "note", "a walk that does not lie on the ground model", (), "computed"),
    Check("walks-zero", 29, "", "ask", "all walks by one gauge off alike", (), "computed"),
    Check("walks-terrain", 29, "", "ask", "one sector off on several independent walks", (), "computed"),
    Check("walks-walker", 29, "", "ask", "one sector off on one walk, where another fits", (), "computed"),
    Check("walks-shift", 29, "", "ask", "lines high on one side and low on the other", (), "computed"),
    Check("plot-distance", 31, "plot_score", "ask", "a plot scored away from its peg", ("plot-distance",), "from memory"),
    Check("plot-not-found", 31, "plot_score", "ask", "plants scored where the peg was not found", (), "common practice"),
    Check("cover-sum", 32, "plot_score", "ask", "more than one layer's cover", ("cover-sum",), "computed"),
    Check("cover-range", 32, "plot_score", "stop", "a cover below 0 or above 100 %", (), "computed"),
    Check("plant-native", 33, "plot_score", "ask", "a plant marked native that is not", (), "from memory"),
    Check("plant-flipped", 33, "plot_score", "ask", "a plant with another origin or group than before", (), "common practice"),
    Check("plant-look-alike", 33, "plot_score", "ask", "a new plant that is easily mistaken", (), "from memory"),
    Check("observers-differ", 33, "plot_score", "note", "a plant that one of two observers wrote", (), "Morrison 2016, J. Plant Ecology"),
    Check("cover-jump", 33, "plot_score", "ask note", "a cover that jumped", ("cover-jump",), "J. Plant Ecology 13(5):641 (2020)"),
    Check("tree-range", 0, "tree_score", "stop", "a crown outside 0 to 100 %", (), "computed"),
    Check("tree-jump", 0, "tree_score", "ask note", "a crown that changed too soon", ("tree-jump",), "from memory; Souter et al. 2010"),
    Check("tree-girth", 0, "tree_score", "ask", "a trunk that changed its diameter", ("tree-girth",), "from memory"),
)  # fmt: skip
