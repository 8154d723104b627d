"""Services of the Android build. Not run on a device yet."""
