"""The sync server: takes in entries, shows the coordinator a desk, writes the report."""
