"""An invented season, played through the real parts. Nothing in it is a real place or person."""
