-- +goose Up
-- The log of campaigns. Nothing in it is changed or removed, but for the checkpoint.
CREATE TABLE log_entry (
    number  INTEGER NOT NULL PRIMARY KEY, -- from 0
    name    TEXT             NOT NULL,
    version INTEGER NOT NULL, -- from 1
    kind    TEXT             NOT NULL,
    site    TEXT             NOT NULL, -- empty: of none
    request TEXT             NOT NULL UNIQUE,
    digest  BLOB    NOT NULL, -- of the request, SHA-256
    time    INTEGER NOT NULL, -- microseconds since 1970
    leaf    BLOB    NOT NULL, -- hash of the entry's line
    body    BLOB    NOT NULL,
    UNIQUE (name, version)
);
CREATE INDEX log_entry_by_site ON log_entry (site, number);
CREATE INDEX log_entry_by_kind ON log_entry (kind, name, version);

-- Hashes of the Merkle tree, in the order of golang.org/x/mod/sumdb/tlog.
CREATE TABLE log_hash (
    idx  INTEGER NOT NULL PRIMARY KEY,
    hash BLOB    NOT NULL
) WITHOUT ROWID;

-- One row. Who writes the log locks it first.
CREATE TABLE log_head (
    id         INTEGER NOT NULL PRIMARY KEY,
    checkpoint BLOB    NOT NULL -- a signed note; empty before the first start
);
INSERT INTO log_head (id, checkpoint) VALUES (1, '');

CREATE TABLE rule_table (
    digest TEXT             NOT NULL PRIMARY KEY, -- of the table's content
    sha256 BLOB    NOT NULL, -- of digest and data
    data   BLOB    NOT NULL
);
