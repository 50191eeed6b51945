-- +goose Up
-- Times are microseconds since 1970, 0 for none. States are those of batch.State.
CREATE TABLE batch (
    id              TEXT    NOT NULL PRIMARY KEY,
    request_id      TEXT    NOT NULL UNIQUE,
    state           BIGINT NOT NULL,
    revision        BIGINT NOT NULL,
    pass            BIGINT NOT NULL,
    queued          BIGINT NOT NULL, -- the jobs of the pass are in the queue
    served_revision BIGINT NOT NULL, -- whose answers are given; -1 for none
    served_pass     BIGINT NOT NULL,
    created         BIGINT NOT NULL,
    started         BIGINT NOT NULL,
    ended           BIGINT NOT NULL,
    chunks          BIGINT NOT NULL,
    row_count       BIGINT NOT NULL,
    decided         BIGINT NOT NULL, -- this and the counts: when it ended
    prescribed      BIGINT NOT NULL,
    deferred        BIGINT NOT NULL,
    undetermined    BIGINT NOT NULL,
    rejected        BIGINT NOT NULL,
    digest          TEXT    NOT NULL,
    title           TEXT    NOT NULL,
    problem         TEXT    NOT NULL,
    request         BYTEA    NOT NULL,
    pinned          BYTEA,
    shares          BYTEA, -- nil in the first pass
    summary         BYTEA
);
CREATE INDEX batch_by_age ON batch (created, id);
CREATE INDEX batch_by_state ON batch (state);

-- Numbers and bytes are in tables of their own: sums read no bytes. Chunks and answers
-- are pressed (S2, one block).
CREATE TABLE chunk (
    batch     TEXT    NOT NULL,
    idx       BIGINT NOT NULL,
    first_row BIGINT NOT NULL,
    row_count BIGINT NOT NULL,
    sha256    BYTEA    NOT NULL,
    PRIMARY KEY (batch, idx)
);
CREATE TABLE chunk_data (
    batch TEXT    NOT NULL,
    idx   BIGINT NOT NULL,
    data  BYTEA    NOT NULL,
    PRIMARY KEY (batch, idx)
);

CREATE TABLE result (
    batch        TEXT    NOT NULL,
    revision     BIGINT NOT NULL,
    pass         BIGINT NOT NULL,
    idx          BIGINT NOT NULL,
    prescribed   BIGINT NOT NULL,
    deferred     BIGINT NOT NULL,
    undetermined BIGINT NOT NULL,
    rejected     BIGINT NOT NULL,
    sha256       BYTEA    NOT NULL, -- of the answer
    PRIMARY KEY (batch, revision, pass, idx)
);
CREATE TABLE result_data (
    batch    TEXT    NOT NULL,
    revision BIGINT NOT NULL,
    pass     BIGINT NOT NULL,
    idx      BIGINT NOT NULL,
    tally    BYTEA    NOT NULL,
    answer   BYTEA    NOT NULL,
    PRIMARY KEY (batch, revision, pass, idx)
);

-- What is pressed already is not pressed again.
ALTER TABLE chunk_data ALTER COLUMN data SET STORAGE EXTERNAL;
ALTER TABLE result_data ALTER COLUMN answer SET STORAGE EXTERNAL;

-- Servers that are up, by their last sign of life.
CREATE TABLE server (
    id   TEXT        NOT NULL PRIMARY KEY,
    seen TIMESTAMPTZ NOT NULL
);
