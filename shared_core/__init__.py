"""What tablet and server share: what a record is, its checks, the merge and the water balance.

Read in this order: ``units`` and ``errors``; ``fields`` (how a record is declared); ``records``
(one file a kind); ``merge`` (which entry speaks for a record); ``logbook`` (the append-only
file); ``exchange`` and ``carry`` (how entries travel); ``rating``, ``geodesy``, ``track``,
``evaporation``, ``uncertainty`` and ``balance`` (from a level to megalitres). Standard library
only; no clock, no random number, no network, no thread: they come in as arguments.
"""
