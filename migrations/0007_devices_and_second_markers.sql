-- What each device says of itself: without it a number that never arrived could not be told from one never made, and a
-- tablet whose storage was wiped would go unnoticed.
CREATE TABLE devices (
    centre_id text NOT NULL,
    session_id uuid NOT NULL,
    device text NOT NULL CHECK (device ~ '^[A-Za-z0-9._:-]{1,64}$'),
    high bigint NOT NULL CHECK (high BETWEEN 0 AND 4294967295),
    PRIMARY KEY (centre_id, session_id, device),
    FOREIGN KEY (centre_id, session_id) REFERENCES sessions
);
COMMENT ON TABLE devices IS 'The highest number that each device says it has made on a session; it only ever grows';
SELECT fence('devices');
GRANT SELECT, INSERT, UPDATE (high) ON devices TO baywitness_app;

-- A second person who marks the same attempt, in a log of their own and blind to the first. The signature stays with
-- the session's assessor.
CREATE TABLE second_markers (
    centre_id text NOT NULL,
    session_id uuid NOT NULL,
    marker integer NOT NULL,
    PRIMARY KEY (centre_id, session_id),
    FOREIGN KEY (centre_id, session_id) REFERENCES sessions,
    FOREIGN KEY (centre_id, marker) REFERENCES staff
);
SELECT fence('second_markers');
GRANT SELECT, INSERT ON second_markers TO baywitness_app;
