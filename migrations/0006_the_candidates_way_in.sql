-- Only hashes: whoever reads the database cannot open a candidate's page with what stands here.
CREATE TABLE feedback_links (
    centre_id text NOT NULL,
    token_hash bytea NOT NULL CHECK (octet_length(token_hash) = 32),
    session_id uuid NOT NULL,
    code_hash bytea NOT NULL CHECK (octet_length(code_hash) = 32),
    made_at timestamptz NOT NULL,
    expires_at timestamptz NOT NULL,
    revoked_at timestamptz,
    wrong_codes integer NOT NULL DEFAULT 0,
    PRIMARY KEY (centre_id, token_hash),
    FOREIGN KEY (centre_id, session_id) REFERENCES sessions
);
COMMENT ON COLUMN feedback_links.token_hash IS 'SHA-256 of the token in the address';
COMMENT ON COLUMN feedback_links.code_hash IS 'SHA-256 of token and code together';
COMMENT ON COLUMN feedback_links.wrong_codes IS 'Wrong codes since the last right one; at five the link is locked';
CREATE INDEX feedback_links_of_session ON feedback_links (centre_id, session_id);
SELECT fence('feedback_links');
GRANT SELECT, INSERT, UPDATE (wrong_codes, revoked_at) ON feedback_links TO baywitness_app;

CREATE TABLE feedback_visits (
    centre_id text NOT NULL,
    visit_hash bytea NOT NULL CHECK (octet_length(visit_hash) = 32),
    token_hash bytea NOT NULL,
    ends_at timestamptz NOT NULL,
    PRIMARY KEY (centre_id, visit_hash),
    FOREIGN KEY (centre_id, token_hash) REFERENCES feedback_links
);
COMMENT ON COLUMN feedback_visits.visit_hash IS 'SHA-256 of the cookie that a right code sets';
SELECT fence('feedback_visits');
GRANT SELECT, INSERT ON feedback_visits TO baywitness_app;
