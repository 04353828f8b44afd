-- A tablet that is in contact but has nothing to send says so once a minute. Without it an idle tablet would look like
-- one that is out of contact, and what is added from memory afterwards would pass for what came late.
CREATE TABLE contacts (
    centre_id text NOT NULL,
    session_id uuid NOT NULL,
    marker integer NOT NULL,
    device text NOT NULL CHECK (device ~ '^[A-Za-z0-9._:-]{1,64}$'),
    at timestamptz NOT NULL,
    high bigint NOT NULL CHECK (high BETWEEN 0 AND 4294967295),
    PRIMARY KEY (centre_id, session_id, marker, device, at),
    FOREIGN KEY (centre_id, session_id) REFERENCES sessions,
    FOREIGN KEY (centre_id, marker) REFERENCES staff
);
COMMENT ON TABLE contacts IS 'When an idle device was in contact, and the highest number that it had made by then';
SELECT fence('contacts');
GRANT SELECT, INSERT ON contacts TO baywitness_app;
