-- +goose Up
-- Times are microseconds since 1970, 0 for none. States are those of batch.State.
CREATE TABLE batch (
    id              TEXT    NOT NULL PRIMARY KEY,
    request_id      TEXT    NOT NULL UNIQUE,
    state           INTEGER NOT NULL,
    revision        INTEGER NOT NULL,
    pass            INTEGER NOT NULL,
    queued          INTEGER NOT NULL, -- the jobs of the pass are in the queue
    served_revision INTEGER NOT NULL, -- whose answers are given; -1 for none
    served_pass     INTEGER NOT NULL,
    created         INTEGER NOT NULL,
    started         INTEGER NOT NULL,
    ended           INTEGER NOT NULL,
    chunks          INTEGER NOT NULL,
    row_count       INTEGER NOT NULL,
    decided         INTEGER NOT NULL, -- this and the counts: when it ended
    prescribed      INTEGER NOT NULL,
    deferred        INTEGER NOT NULL,
    undetermined    INTEGER NOT NULL,
    rejected        INTEGER NOT NULL,
    digest          TEXT    NOT NULL,
    title           TEXT    NOT NULL,
    problem         TEXT    NOT NULL,
    request         BLOB    NOT NULL,
    pinned          BLOB,
    shares          BLOB, -- nil in the first pass
    summary         BLOB
);
CREATE INDEX batch_by_age ON batch (created, id);
CREATE INDEX batch_by_state ON batch (state);

-- Numbers and bytes are in tables of their own: sums read no bytes. Chunks and answers
-- are pressed (S2, one block).
CREATE TABLE chunk (
    batch     TEXT    NOT NULL,
    idx       INTEGER NOT NULL,
    first_row INTEGER NOT NULL,
    row_count INTEGER NOT NULL,
    sha256    BLOB    NOT NULL,
    PRIMARY KEY (batch, idx)
) WITHOUT ROWID;
CREATE TABLE chunk_data (
    batch TEXT    NOT NULL,
    idx   INTEGER NOT NULL,
    data  BLOB    NOT NULL,
    PRIMARY KEY (batch, idx)
);

CREATE TABLE result (
    batch        TEXT    NOT NULL,
    revision     INTEGER NOT NULL,
    pass         INTEGER NOT NULL,
    idx          INTEGER NOT NULL,
    prescribed   INTEGER NOT NULL,
    deferred     INTEGER NOT NULL,
    undetermined INTEGER NOT NULL,
    rejected     INTEGER NOT NULL,
    sha256       BLOB    NOT NULL, -- of the answer
    PRIMARY KEY (batch, revision, pass, idx)
) WITHOUT ROWID;
CREATE TABLE result_data (
    batch    TEXT    NOT NULL,
    revision INTEGER NOT NULL,
    pass     INTEGER NOT NULL,
    idx      INTEGER NOT NULL,
    tally    BLOB    NOT NULL,
    answer   BLOB    NOT NULL,
    PRIMARY KEY (batch, revision, pass, idx)
);
