CREATE TABLE decisions (
    centre_id text NOT NULL,
    session_id uuid NOT NULL,
    ordinal integer NOT NULL CHECK (ordinal > 0),
    criterion text NOT NULL CHECK (criterion ~ '^[A-Za-z0-9._:-]{1,64}$'),
    outcome text NOT NULL CHECK (outcome IN ('met', 'not_met', 'not_seen', 'not_applicable')),
    reason text,
    decided_by integer NOT NULL,
    decided_at timestamptz NOT NULL,
    PRIMARY KEY (centre_id, session_id, ordinal),
    FOREIGN KEY (centre_id, session_id) REFERENCES sessions,
    FOREIGN KEY (centre_id, decided_by) REFERENCES staff
);
COMMENT ON TABLE decisions IS 'What the assessor decided about proposed findings; the last on a criterion counts, the others stay to be read';
COMMENT ON COLUMN decisions.ordinal IS 'Counts from 1 within the session, in the order in which they were made';
SELECT fence('decisions');
SELECT keep_for_good('decisions', 'UPDATE OR DELETE OR TRUNCATE');
GRANT SELECT, INSERT ON decisions TO baywitness_app;

CREATE TABLE results (
    centre_id text NOT NULL,
    session_id uuid NOT NULL,
    outcome text NOT NULL CHECK (outcome IN ('pass', 'fail', 'automatic_fail', 'unfinished')),
    marks integer NOT NULL CHECK (marks >= 0),
    out_of integer NOT NULL CHECK (out_of >= marks),
    percent double precision NOT NULL CHECK (percent BETWEEN 0 AND 100),
    reasons text[] NOT NULL,
    count bigint NOT NULL,
    head text NOT NULL,
    signed_by integer NOT NULL,
    signed_at timestamptz NOT NULL,
    PRIMARY KEY (centre_id, session_id),
    FOREIGN KEY (centre_id, session_id) REFERENCES sessions,
    FOREIGN KEY (centre_id, session_id, count) REFERENCES entries (centre_id, session_id, n),
    FOREIGN KEY (centre_id, signed_by) REFERENCES staff
);
COMMENT ON COLUMN results.reasons IS 'Criteria that decided the verdict';
COMMENT ON COLUMN results.count IS 'Entries that the signature covers, the outcome entry included';
COMMENT ON COLUMN results.head IS 'Hash of the last of them';
SELECT fence('results');
SELECT keep_for_good('results', 'UPDATE OR DELETE OR TRUNCATE');
GRANT SELECT, INSERT ON results TO baywitness_app;
