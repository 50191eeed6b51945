-- +goose Up
-- What keeps a server from deciding a batch that is running: gone when the batch goes on
-- to another pass, or ends.
CREATE TABLE hindered (
    batch    TEXT COLLATE "C" NOT NULL,
    server   TEXT COLLATE "C" NOT NULL,
    name     TEXT             NOT NULL, -- of the server, for people
    problem  TEXT             NOT NULL,
    since    BIGINT           NOT NULL,
    PRIMARY KEY (batch, server)
);
