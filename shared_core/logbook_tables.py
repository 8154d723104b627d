"""The tables of a logbook file, with a comment per column, and a view per kind of record."""

import hashlib
import json
from typing import Final

from shared_core.fields import fields_of
from shared_core.records.base import Record

FORMAT: Final = 1  # user_version; 1: first release
APPLICATION: Final = 0x53545244  # application_id, the letters STRD

TABLES: Final = """
create table if not exists entry (
    place integer primary key autoincrement,  -- order of arrival in this file; what a peer reads on from
    entry text not null unique,               -- name of the entry, UUIDv7
    record text not null,                     -- what it is about
    kind text not null,
    site text,
    device text not null,
    seq integer not null,                     -- counts from 1 on each device
    line text not null,                       -- exact text as first written; all the rest is read off it
    arrived_at text not null,                 -- when this file took it in, UTC
    seal text not null,                       -- seal_of(line, arrived_at): shows rot of this row
    unique (device, seq)
) strict;
create index if not exists entry_record on entry (record);

create table if not exists current (          -- derived from entry; rebuilt at any time
    record text primary key,
    kind text not null,
    site text,
    point text,                               -- gauge, meter, peg; null for a kind not known here
    at text,                                  -- time the record is about, UTC; null likewise
    unused integer not null,                  -- 1: set aside by a person
    body text,                                -- joined value, JSON; null: withdrawn
    heads text not null,                      -- JSON list of entries a correction replaces
    disputed text,                            -- JSON: field to list of [entry, value]; null: none
    entries integer not null,                 -- how many entries speak about it
    author text not null,                     -- of the newest head
    device text not null,
    written_at text not null
) strict;
create index if not exists current_point on current (kind, site, point, at);
create index if not exists current_site on current (kind, site, at);
create index if not exists current_disputed on current (site) where disputed is not null;

create table if not exists device (
    name text primary key,
    unbroken integer not null                 -- every line of it up to here was handed in
) strict;

create table if not exists peer (             -- how far an exchange with another end has got
    name text primary key,
    log text not null,                        -- that end's log; another one means it was made anew
    fetched integer not null,                 -- its place up to which everything is here
    seal text not null
) strict;

create table if not exists sent (
    peer text not null,
    device text not null,                     -- this device, which may have had another name before
    up_to integer not null,                   -- its lines here up to this number were handed over
    has integer not null,                     -- last number of its lines that the other end has
    seal text not null,
    primary key (peer, device)
) strict;

create table if not exists quarantine (       -- lines that could not be taken in; nothing is thrown away
    place integer primary key autoincrement,
    line_sha256 text not null unique,
    line text not null,
    device text,                              -- as the line claims, where it can be read
    seq integer,
    source text not null,                     -- who brought it
    why text not null,
    arrived_at text not null,
    seal text not null
) strict;

create index if not exists quarantine_device on quarantine (device, seq);

create table if not exists draft (            -- half-typed records of this device; never travel
    name text primary key,
    typed text not null,
    kept_at text not null,
    seal text not null
) strict;

create table if not exists about (
    name text primary key,
    value text not null,
    seal text not null
) strict;
"""

SEALED: Final = {  # table to the columns that its seal covers
    "entry": ("line", "arrived_at"),  # the others are read off the line
    "peer": ("name", "log", "fetched"),
    "sent": ("peer", "device", "up_to", "has"),
    "quarantine": ("line_sha256", "line", "device", "seq", "source", "why", "arrived_at"),
    "draft": ("name", "typed", "kept_at"),
    "about": ("name", "value"),
}


def seal_of(*values: str | int | None) -> str:
    """Return SHA-256 over the values of a row, so that a flipped bit in any of them shows."""
    return hashlib.sha256(json.dumps(values).encode()).hexdigest()


def view_of(kind: type[Record]) -> str:
    """Return SQL that shows one kind of record as a table to anyone who opens the file."""
    columns = "".join(
        f',\n    cast(json_extract(body, \'$."{field.name}"\') as {field.sql}) as "{field.name}"'
        for field in fields_of(kind)
    )
    return (  # names come from our own declarations, not from people
        f'drop view if exists "{kind.kind}";\n'
        f'create view "{kind.kind}" as select record as record_id{columns},\n'
        f"    author as written_by, device as written_on, written_at, disputed\n"
        f"from current where kind = '{kind.kind}' and body is not null;\n"
    )
