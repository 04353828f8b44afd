-- A finding that was worked out and then overruled is the place where a marking is most likely to be questioned: a
-- verifier is to look at each such session. What was overruled is kept beside the result for good, so that a later
-- change of the rules cannot take it away.
CREATE TABLE samples (
    centre_id text NOT NULL,
    session_id uuid NOT NULL,
    overruled text[] NOT NULL CHECK (cardinality(overruled) > 0),
    PRIMARY KEY (centre_id, session_id),
    FOREIGN KEY (centre_id, session_id) REFERENCES results
);
COMMENT ON TABLE samples IS 'Signed sessions that a verifier is to look at';
COMMENT ON COLUMN samples.overruled IS 'Criteria on which the assessor decided otherwise than was worked out';
SELECT fence('samples');
SELECT keep_for_good('samples', 'UPDATE OR DELETE OR TRUNCATE');
GRANT SELECT, INSERT ON samples TO baywitness_app;
