-- Who took what out of the house. A row is added when an export begins and another when it ends, so that nobody can make
-- one look as if it had not been, and one that broke off with the program is seen by what is missing.
CREATE TABLE exports (
    centre_id text NOT NULL REFERENCES centres,
    export_id uuid NOT NULL,
    begun_by integer,
    begun_at timestamptz NOT NULL,
    format text NOT NULL CHECK (format ~ '^[a-z-]{1,32}$'),
    from_day date NOT NULL,
    to_day date NOT NULL,
    task_id uuid,
    assessor integer,
    outcome text CHECK (outcome IN ('pass', 'fail', 'automatic_fail', 'unfinished')),
    columns text[] NOT NULL,
    names boolean NOT NULL,
    rows_to_do bigint NOT NULL CHECK (rows_to_do >= 0),
    PRIMARY KEY (centre_id, export_id),
    FOREIGN KEY (centre_id, begun_by) REFERENCES staff,
    FOREIGN KEY (centre_id, assessor) REFERENCES staff,
    CHECK (from_day <= to_day)
);
COMMENT ON COLUMN exports.begun_by IS 'Staff number; without one it was begun from the command line, by whoever runs the service';
COMMENT ON COLUMN exports.from_day IS 'First day of signing, in the centre''s time zone';
COMMENT ON COLUMN exports.to_day IS 'Last day of signing, in the centre''s time zone';
COMMENT ON COLUMN exports.names IS 'Whether candidates'' names were in it';
CREATE INDEX exports_by_time ON exports (centre_id, begun_at);
SELECT fence('exports');
SELECT keep_for_good('exports', 'UPDATE OR DELETE OR TRUNCATE');
GRANT SELECT, INSERT ON exports TO baywitness_app;

CREATE TABLE export_ends (
    centre_id text NOT NULL,
    export_id uuid NOT NULL,
    ended_at timestamptz NOT NULL,
    how text NOT NULL CHECK (how IN ('finished', 'cancelled', 'failed')),
    rows_done bigint NOT NULL CHECK (rows_done >= 0),
    bytes bigint NOT NULL CHECK (bytes >= 0),
    PRIMARY KEY (centre_id, export_id),
    FOREIGN KEY (centre_id, export_id) REFERENCES exports
);
COMMENT ON COLUMN export_ends.bytes IS 'Size of the file that was made; 0 where none is left';
SELECT fence('export_ends');
SELECT keep_for_good('export_ends', 'UPDATE OR DELETE OR TRUNCATE');
GRANT SELECT, INSERT ON export_ends TO baywitness_app;

-- The columns that a person chose last, so that they choose them once.
CREATE TABLE export_columns (
    centre_id text NOT NULL,
    staff_number integer NOT NULL,
    columns text[] NOT NULL,
    PRIMARY KEY (centre_id, staff_number),
    FOREIGN KEY (centre_id, staff_number) REFERENCES staff
);
SELECT fence('export_columns');
GRANT SELECT, INSERT, UPDATE (columns) ON export_columns TO baywitness_app;

-- Results are looked through by when they were signed.
CREATE INDEX results_by_time ON results (centre_id, signed_at, session_id);
