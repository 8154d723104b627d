"""Checks of time, place and completeness, as data."""

from typing import Final

from shared_core.records.checks_form import Check, Limit

TIME_LIMITS: Final = (
    Limit("site-distance", 500, "m", "from memory"),
    Limit("point-distance", 25, "m", "from memory; 3 times the receiver's own figure if that is more"),
    Limit("clock-note", 2, "min", "from memory"),
    Limit("clock", 30, "min", "from memory"),
    Limit("clock-visit", 10, "h", "from memory"),
    Limit("visit-missing", 2, "days", "common practice"),
    Limit("photo-distance", 10, "m", "from memory"),
    Limit("bearing", 10, "deg", "from memory; Hall 2001 asks for the same bearing"),
    Limit("focal-length", 0.05, "share", "from memory; Hall 2001 asks for the same lens"),
    Limit("photo-dark", 0.06, "of white", "from memory"),
    Limit("photo-bright", 0.96, "of white", "from memory"),
    Limit("photo-blurred", 9, "of 255", "computed on drawn scenes, sharp and blurred"),
)  # fmt: skip

TIME_CHECKS: Final = (
    Check("unusual-value", 0, "any", "ask", "a number outside its field's usual range", (), "the field's own range"),
    Check("disputed", 40, "any", "ask", "a field that two people wrote differently", (), "common practice"),
    Check("unreadable", 0, "any", "stop", "a text that cannot be read as its field", (), "common practice"),
    Check("not-judged", 0, "any", "note", "a check that could not run on this device", (), "common practice"),
    Check("not-taken", 0, "any", "stop", "a line that a logbook cannot take in", (), "common practice"),
    Check("site-distance", 21, "any", "stop", "made far outside the site it is filed under", ("site-distance",), "from memory"),
    Check("point-distance", 22, "gauge_reading photo_taken plot_score tree_score bore_dip", "ask", "made away from the point it names", ("point-distance", "photo-distance", "plot-distance"), "from memory"),
    Check("clock", 23, "any", "ask note", "the device's clock beside satellite time", ("clock-note", "clock"), "BoM, daylight saving and observations"),
    Check("clock-night", 23, "visit", "ask", "a visit stamped in the dark, its clock not compared", (), "common practice"),
    Check("clock-offset", 23, "any", "ask note", "an offset from UTC that the site does not keep then", (), "BoM, daylight saving and observations"),
    Check("clock-visit", 23, "any", "ask", "a time far from that of its visit; morning and afternoon", ("clock-visit",), "from memory"),
    Check("clock-future", 24, "any", "stop", "a time yet to come", (), "from memory"),
    Check("clock-old", 24, "any", "stop", "a time before the site was set up", (), "computed"),
    Check("photo-dark", 30, "photo_taken", "ask", "a picture that is nearly black", ("photo-dark",), "from memory"),
    Check("photo-bright", 30, "photo_taken", "ask", "a picture that is nearly white", ("photo-bright",), "from memory"),
    Check("photo-blurred", 30, "photo_taken", "ask", "a picture without a sharp edge", ("photo-blurred",), "computed"),
    Check("bearing-missing", 30, "photo_taken", "ask", "a photo point without a bearing", (), "Hall 2001, PNW-GTR-503"),
    Check("bearing-off", 30, "photo_taken", "ask", "a bearing away from the point's", ("bearing",), "from memory"),
    Check("focal-length", 30, "photo_taken", "ask", "another focal length than the point's", ("focal-length",), "from memory"),
    Check("not-done-why", 41, "visit", "ask", "something left out without a reason", (), "common practice"),
    Check("items-missing", 41, "visit", "ask", "something due with neither record nor reason", (), "common practice"),
    Check("visit-missing", 41, "planned_visit", "ask", "a planned visit of which nothing has come in", ("visit-missing",), "common practice"),
    Check("hazard-position", 0, "hazard", "ask", "a hazard without a position", (), "common practice"),
    Check("hazard-keep-out", 0, "hazard", "ask", "a hazard without a distance to keep", (), "common practice"),
    Check("limit-unknown", 0, "limits", "ask", "a limit that no check reads", (), "computed"),
)  # fmt: skip
