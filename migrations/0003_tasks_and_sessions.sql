CREATE TABLE tasks (
    centre_id text NOT NULL REFERENCES centres,
    task_id uuid NOT NULL,
    version integer NOT NULL CHECK (version > 0),
    title text NOT NULL,
    source text NOT NULL,
    digest text NOT NULL CHECK (digest = encode(sha256(convert_to(source, 'UTF8')), 'hex')),
    published_at timestamptz NOT NULL,
    PRIMARY KEY (centre_id, task_id, version),
    UNIQUE (centre_id, task_id, digest)
);
COMMENT ON TABLE tasks IS 'Published versions; a session is marked by the very version it was planned with, for good';
COMMENT ON COLUMN tasks.source IS 'The task file, byte for byte';
COMMENT ON COLUMN tasks.digest IS 'SHA-256 of source as hex; the evidence of each session names its version by it';
SELECT fence('tasks');
SELECT keep_for_good('tasks', 'UPDATE OR DELETE OR TRUNCATE');
GRANT SELECT, INSERT ON tasks TO baywitness_app;

CREATE TABLE sessions (
    centre_id text NOT NULL REFERENCES centres,
    session_id uuid NOT NULL,
    task_id uuid NOT NULL,
    task_version integer NOT NULL,
    candidate_id uuid NOT NULL,
    assessor integer NOT NULL,
    bay text NOT NULL,
    planned_at timestamptz NOT NULL,
    extra_percent integer NOT NULL CHECK (extra_percent BETWEEN 0 AND 1000),
    extra_minutes integer NOT NULL CHECK (extra_minutes BETWEEN 0 AND 1000),
    opened_at timestamptz,
    count bigint NOT NULL DEFAULT 0,
    head text NOT NULL CHECK (head ~ '^[0-9a-f]{64}$'),
    PRIMARY KEY (centre_id, session_id),
    FOREIGN KEY (centre_id, task_id, task_version) REFERENCES tasks,
    FOREIGN KEY (centre_id, candidate_id) REFERENCES candidates,
    FOREIGN KEY (centre_id, assessor) REFERENCES staff,
    CHECK (count >= 0),
    CHECK ((opened_at IS NULL) = (count = 0)),
    CHECK (count > 0 OR head = encode(
        sha256(convert_to('baywitness-log/1' || E'\n' || session_id::text || E'\n', 'UTF8')), 'hex'))
) WITH (fillfactor = 70);
COMMENT ON COLUMN sessions.extra_percent IS 'Agreed adjustment: per cent of the task''s minutes';
COMMENT ON COLUMN sessions.extra_minutes IS 'Agreed adjustment: whole minutes';
COMMENT ON COLUMN sessions.opened_at IS 'When the bay check was confirmed and the evidence opened';
COMMENT ON COLUMN sessions.count IS 'Entries in the chain; moved in the transaction that appends';
COMMENT ON COLUMN sessions.head IS 'Hash of the last entry, or h(0); moved with count';
-- Room in each page lets count and head move without touching an index.
CREATE INDEX sessions_by_time ON sessions (centre_id, planned_at);
SELECT fence('sessions');
GRANT SELECT, INSERT, UPDATE (opened_at, count, head) ON sessions TO baywitness_app;
