"""The errors this project raises on purpose; each is a situation somebody can act on.

* StrandlineError
  - UnreadableError    what was typed or handed in cannot be read; the text says what would be
  - OutsideRangeError  a question lies outside what was surveyed or measured
  - DamagedError       a logbook, entry or carry file is not what was once written
  - UnknownError       a site, kind, record or file that is not known here
  - RefusedError       the other side, or a rule of access, does not allow it
"""


class StrandlineError(Exception):
    """Base of every error raised on purpose; its text is a sentence for the person at hand."""


class UnreadableError(StrandlineError, ValueError):
    """What was typed or handed in cannot be read; the text says what would be read."""


class OutsideRangeError(StrandlineError, ValueError):
    """A question lies outside the range that was surveyed or measured."""


class DamagedError(StrandlineError):
    """A logbook, an entry or a carry file is not what was once written."""


class UnknownError(StrandlineError, LookupError):
    """A site, kind, record, device or file that is not known here."""


class RefusedError(StrandlineError):
    """The other side, or a rule of access, does not allow what was asked."""
