"""The tablet app: a visit recorded with no coverage."""
