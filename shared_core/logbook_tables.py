"""The tables of a logbook file, with a comment per column, and a view per kind of record."""

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
    fetched integer not null                  -- its place up to which everything is here
) strict;

create table if not exists sent (
    peer text primary key,
    has integer not null                      -- what that end last said it has of this device's lines
) strict;

create table if not exists quarantine (       -- lines that could not be taken in; nothing is thrown away
    place integer primary key autoincrement,
    line_sha256 text not null unique,
    line text not null,
    device text,                              -- as the line claims, where it can be read
    seq integer,
    source text not null,                     -- who brought it
    why text not null,
    arrived_at text not null
) strict;

create index if not exists quarantine_device on quarantine (device, seq);

create table if not exists draft (            -- half-typed records of this device; never travel
    name text primary key,
    typed text not null,
    kept_at text not null
) strict;

create table if not exists about (name text primary key, value text not null) strict;
"""


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
