"""The parts that screens are built of."""
