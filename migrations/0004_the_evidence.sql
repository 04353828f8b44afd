-- One line of text for each thing recorded, in the exact bytes that are hashed: text and not jsonb, which would
-- reorder them. The other columns repeat what the line says, for finding it, and are held to it by the trigger below.
CREATE TABLE entries (
    centre_id text NOT NULL,
    session_id uuid NOT NULL,
    n bigint NOT NULL CHECK (n > 0),
    entry_id uuid NOT NULL,
    kind text NOT NULL,
    marker integer NOT NULL,
    line text NOT NULL CHECK (octet_length(line) <= 2048),
    head text NOT NULL,
    PRIMARY KEY (centre_id, session_id, n),
    UNIQUE (centre_id, session_id, entry_id),
    FOREIGN KEY (centre_id, session_id) REFERENCES sessions,
    FOREIGN KEY (centre_id, marker) REFERENCES staff
);
COMMENT ON COLUMN entries.n IS 'Place in the chain of the session, from 1 without a gap';
COMMENT ON COLUMN entries.entry_id IS 'Made on the tablet, so that sending twice stores once';
COMMENT ON COLUMN entries.marker IS 'Staff number of the person whose log this is: by in the line';
COMMENT ON COLUMN entries.line IS 'Canonical JSON without a line feed';
COMMENT ON COLUMN entries.head IS 'h(n): SHA-256, as hex, of h(n-1), a line feed, the line and a line feed';
SELECT fence('entries');
SELECT keep_for_good('entries', 'UPDATE OR DELETE OR TRUNCATE');
GRANT SELECT, INSERT ON entries TO baywitness_app;

-- Works the chain out once more where the row is written: a mistake, or a forgery, in the program cannot enter. A row
-- sees those that the same statement wrote before it.
CREATE FUNCTION check_chain() RETURNS trigger
    LANGUAGE plpgsql AS $$
DECLARE
    before text;
    before_n bigint;
    facts json := NEW.line::json;
BEGIN
    IF NEW.n = 1 THEN
        before := encode(sha256(convert_to(
            'baywitness-log/1' || E'\n' || NEW.session_id::text || E'\n', 'UTF8')), 'hex');
    ELSE
        -- Asked for in order, and not by its number: a planner without statistics takes any index that begins with
        -- centre and session for as good, and each append would read the whole session.
        SELECT n, head INTO before_n, before FROM entries
        WHERE centre_id = NEW.centre_id AND session_id = NEW.session_id AND n < NEW.n
        ORDER BY n DESC LIMIT 1;
        IF before_n IS DISTINCT FROM NEW.n - 1 THEN
            RAISE EXCEPTION 'entry % of session % has none before it', NEW.n, NEW.session_id
                USING ERRCODE = 'integrity_constraint_violation';
        END IF;
    END IF;
    IF NEW.head IS DISTINCT FROM encode(sha256(convert_to(
            before || E'\n' || NEW.line || E'\n', 'UTF8')), 'hex') THEN
        RAISE EXCEPTION 'entry % of session % does not continue the chain', NEW.n, NEW.session_id
            USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    IF (NEW.entry_id::text, NEW.kind, 'u-' || NEW.marker)
            IS DISTINCT FROM (facts ->> 'id', facts ->> 'kind', facts ->> 'by') THEN
        RAISE EXCEPTION 'entry % of session % says other things in its line than beside it', NEW.n, NEW.session_id
            USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER check_chain BEFORE INSERT ON entries
    FOR EACH ROW EXECUTE FUNCTION check_chain();
ALTER TABLE entries ENABLE ALWAYS TRIGGER check_chain;

-- Free text, and the details of a candidate, stand apart with their salt; the line holds only a commitment. To erase
-- them is to delete the row here, which the owner alone may: the line, and so the chain, stays whole.
CREATE TABLE texts (
    centre_id text NOT NULL,
    session_id uuid NOT NULL,
    n bigint NOT NULL,
    salt bytea NOT NULL CHECK (octet_length(salt) = 32),
    body text NOT NULL,
    PRIMARY KEY (centre_id, session_id, n),
    FOREIGN KEY (centre_id, session_id, n) REFERENCES entries
);
COMMENT ON COLUMN texts.salt IS 'Random, new for each text; with it the commitment can be checked';
SELECT fence('texts');
SELECT keep_for_good('texts', 'UPDATE OR TRUNCATE');
GRANT SELECT, INSERT ON texts TO baywitness_app;

-- Seals (one signature for each sign-off, in one list for each centre) and the checkpoints handed to people outside
-- will stand here: their table refers to results by (centre_id, session_id) and to entries by (…, n).
