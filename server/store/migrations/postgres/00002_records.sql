-- +goose Up
-- The log of campaigns. Nothing in it is changed or removed, but for the checkpoint.
CREATE TABLE log_entry (
    number  BIGINT  NOT NULL PRIMARY KEY, -- from 0
    name    TEXT COLLATE "C" NOT NULL,
    version BIGINT  NOT NULL, -- from 1
    kind    TEXT COLLATE "C" NOT NULL,
    site    TEXT COLLATE "C" NOT NULL, -- empty: of none
    request TEXT COLLATE "C" NOT NULL UNIQUE,
    digest  BYTEA   NOT NULL, -- of the request, SHA-256
    time    BIGINT  NOT NULL, -- microseconds since 1970
    leaf    BYTEA   NOT NULL, -- hash of the entry's line
    body    BYTEA   NOT NULL,
    UNIQUE (name, version)
);
CREATE INDEX log_entry_by_site ON log_entry (site, number);
CREATE INDEX log_entry_by_kind ON log_entry (kind, name, version);

-- Hashes of the Merkle tree, in the order of golang.org/x/mod/sumdb/tlog.
CREATE TABLE log_hash (
    idx  BIGINT  NOT NULL PRIMARY KEY,
    hash BYTEA   NOT NULL
);

-- One row. Who writes the log locks it first.
CREATE TABLE log_head (
    id         BIGINT  NOT NULL PRIMARY KEY,
    checkpoint BYTEA   NOT NULL -- a signed note; empty before the first start
);
INSERT INTO log_head (id, checkpoint) VALUES (1, '');

CREATE TABLE rule_table (
    digest TEXT COLLATE "C" NOT NULL PRIMARY KEY, -- of the table's content
    sha256 BYTEA   NOT NULL, -- of digest and data
    data   BYTEA   NOT NULL
);
