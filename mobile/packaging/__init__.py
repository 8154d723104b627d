"""Files for the Android build. Written from the documentation; not built or run on a device yet."""
