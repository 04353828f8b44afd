-- centre_id stands in every key, so that a centre can be moved, or the tables spread over servers by centre, without a
-- change of their shape.
CREATE TABLE centres (
    centre_id text PRIMARY KEY CHECK (centre_id ~ '^[a-z0-9-]{2,32}$'),
    name text NOT NULL CHECK (char_length(name) BETWEEN 1 AND 200),
    time_zone text NOT NULL
);
COMMENT ON COLUMN centres.centre_id IS 'Permanent code; part of sign-in names and of seals';
COMMENT ON COLUMN centres.time_zone IS 'Name in the tz database, such as Europe/London';
SELECT fence('centres');
GRANT SELECT, INSERT ON centres TO baywitness_app;

-- A zone that does not exist would fail much later, on the first page that shows a time.
CREATE FUNCTION check_time_zone() RETURNS trigger
    LANGUAGE plpgsql AS $$
BEGIN
    PERFORM now() AT TIME ZONE NEW.time_zone;
    RETURN NEW;
END
$$;
CREATE TRIGGER check_time_zone BEFORE INSERT OR UPDATE ON centres
    FOR EACH ROW EXECUTE FUNCTION check_time_zone();

CREATE TABLE staff (
    centre_id text NOT NULL REFERENCES centres,
    number integer NOT NULL CHECK (number > 0),
    sign_in_name text NOT NULL CHECK (sign_in_name = lower(sign_in_name) AND sign_in_name <> ''),
    name text NOT NULL CHECK (char_length(name) BETWEEN 1 AND 200),
    roles text[] NOT NULL CHECK (roles <@ ARRAY['assessor', 'verifier', 'manager']),
    password_hash text NOT NULL,
    disabled_at timestamptz,
    PRIMARY KEY (centre_id, number),
    UNIQUE (centre_id, sign_in_name)
);
COMMENT ON COLUMN staff.number IS 'Counts from 1 within the centre; evidence names the person by it, as u-17, and never by name';
COMMENT ON COLUMN staff.password_hash IS 'argon2id, as a PHC string';
SELECT fence('staff');
GRANT SELECT, INSERT ON staff TO baywitness_app;

CREATE TABLE sign_ins (
    centre_id text NOT NULL,
    token_hash bytea NOT NULL CHECK (octet_length(token_hash) = 32),
    staff_number integer NOT NULL,
    started_at timestamptz NOT NULL,
    seen_at timestamptz NOT NULL,
    password_at timestamptz NOT NULL,
    PRIMARY KEY (centre_id, token_hash),
    FOREIGN KEY (centre_id, staff_number) REFERENCES staff
);
COMMENT ON COLUMN sign_ins.token_hash IS 'SHA-256 of the token in the cookie; the token itself is stored nowhere';
COMMENT ON COLUMN sign_ins.seen_at IS 'Last request, to the minute; idle sign-ins end';
COMMENT ON COLUMN sign_ins.password_at IS 'When the password was last given; signing asks for it afresh';
CREATE INDEX sign_ins_of_staff ON sign_ins (centre_id, staff_number);
SELECT fence('sign_ins');
GRANT SELECT, INSERT, DELETE, UPDATE (seen_at) ON sign_ins TO baywitness_app;

-- Kept here and not in the program, so that several nodes share the count. No foreign keys: a name, or a whole
-- centre, that does not exist is counted like one that does, or the difference would tell which exist.
CREATE TABLE sign_in_tries (
    centre_id text NOT NULL,
    counted text NOT NULL CHECK (octet_length(counted) <= 300),
    full_at timestamptz NOT NULL,
    PRIMARY KEY (centre_id, counted)
);
COMMENT ON COLUMN sign_in_tries.counted IS 'What is counted: name: and a sign-in name, or address: and a network address';
COMMENT ON COLUMN sign_in_tries.full_at IS 'When every try will have been given back; from then on the row means nothing';
CREATE INDEX sign_in_tries_by_age ON sign_in_tries (centre_id, full_at);
SELECT fence('sign_in_tries');
GRANT SELECT, INSERT, UPDATE, DELETE ON sign_in_tries TO baywitness_app;

CREATE TABLE candidates (
    centre_id text NOT NULL REFERENCES centres,
    candidate_id uuid NOT NULL,
    name text NOT NULL CHECK (char_length(name) BETWEEN 1 AND 200),
    reference text NOT NULL CHECK (char_length(reference) BETWEEN 1 AND 64),
    PRIMARY KEY (centre_id, candidate_id),
    UNIQUE (centre_id, reference)
);
COMMENT ON COLUMN candidates.reference IS 'The centre''s own number for the person';
SELECT fence('candidates');
GRANT SELECT, INSERT ON candidates TO baywitness_app;
