"""The coordinator's desk: pages that gather data for a template."""
