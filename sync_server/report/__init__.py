"""The season report: blocks built from records (:mod:`season`), rendered to a page (:mod:`page`)."""
