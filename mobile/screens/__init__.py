"""One screen a file, its layout beside it; a screen shows and passes on, it decides nothing."""
