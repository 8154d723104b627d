"""Names for entries and records: UUID version 7, made from a time and random bits handed in."""

import uuid


def uuid7(unix_ms: int, random_bits: int) -> str:
    """Return a UUIDv7 (RFC 9562 section 5.7) from a time [ms since 1970] and 74 random bits.

    Raises:
        ValueError: if the time does not fit 48 bits.
    """
    if not 0 <= unix_ms < 2**48:
        raise ValueError("a time of 48 bits is needed")
    high = random_bits >> 62 & 0xFFF
    low = random_bits & (2**62 - 1)
    return str(uuid.UUID(int=unix_ms << 80 | 0x7 << 76 | high << 64 | 0b10 << 62 | low))
