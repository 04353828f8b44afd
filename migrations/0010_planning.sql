-- What planning needs to know of a session: how long it takes, what became of the plan, and which attempt it repeats.
ALTER TABLE sessions
    ADD COLUMN length_minutes integer NOT NULL DEFAULT 60 CHECK (length_minutes BETWEEN 1 AND 10000),
    ADD COLUMN turn_round_minutes integer NOT NULL DEFAULT 0 CHECK (turn_round_minutes BETWEEN 0 AND 600),
    ADD COLUMN given_up text CHECK (given_up IN ('cancelled', 'no_show')),
    ADD COLUMN given_up_at timestamptz,
    ADD COLUMN given_up_by integer,
    ADD COLUMN given_up_reason text CHECK (char_length(given_up_reason) BETWEEN 1 AND 500),
    ADD COLUMN resit_of uuid CHECK (resit_of <> session_id),
    ADD COLUMN sequence integer NOT NULL DEFAULT 0 CHECK (sequence >= 0),
    ADD COLUMN changed_at timestamptz,
    ADD COLUMN outcome text,
    ADD CONSTRAINT given_up_by_somebody FOREIGN KEY (centre_id, given_up_by) REFERENCES staff,
    ADD CONSTRAINT resit_of_a_session FOREIGN KEY (centre_id, resit_of) REFERENCES sessions,
    ADD CONSTRAINT given_up_says_when_and_who CHECK (
        (given_up IS NULL) = (given_up_at IS NULL) AND (given_up IS NULL) = (given_up_by IS NULL)),
    ADD CONSTRAINT cancelled_says_why CHECK (given_up IS DISTINCT FROM 'cancelled' OR given_up_reason IS NOT NULL),
    ADD CONSTRAINT given_up_is_never_opened CHECK (given_up IS NULL OR opened_at IS NULL);
COMMENT ON COLUMN sessions.length_minutes IS 'Minutes that are planned for the attempt: the task''s, with what was agreed with the candidate';
COMMENT ON COLUMN sessions.turn_round_minutes IS 'Minutes after it in which bay and assessor are not free: setting up, putting back, deciding';
COMMENT ON COLUMN sessions.given_up IS 'Whether the plan was cancelled, or the candidate did not come';
COMMENT ON COLUMN sessions.given_up_reason IS 'Said by whoever cancelled it; not evidence, so that it can be erased';
COMMENT ON COLUMN sessions.resit_of IS 'The earlier session that this one repeats';
COMMENT ON COLUMN sessions.sequence IS 'Counts the changes of the plan, for calendars (RFC 5545, section 3.8.7.4)';
COMMENT ON COLUMN sessions.changed_at IS 'When the plan was made or last changed; unknown for plans older than this column';
COMMENT ON COLUMN sessions.outcome IS 'As in results, set by a trigger when a session is signed: for lists';

-- What was signed before. The owner is fenced in as well, so the fences are lowered for this one statement.
ALTER TABLE sessions NO FORCE ROW LEVEL SECURITY;
ALTER TABLE results NO FORCE ROW LEVEL SECURITY;
UPDATE sessions SET outcome = results.outcome FROM results
WHERE results.centre_id = sessions.centre_id AND results.session_id = sessions.session_id;
ALTER TABLE sessions FORCE ROW LEVEL SECURITY;
ALTER TABLE results FORCE ROW LEVEL SECURITY;

-- The application cannot write the column itself, so that it never says anything but what was signed.
CREATE FUNCTION note_outcome() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, public AS $$
BEGIN
    UPDATE public.sessions SET outcome = NEW.outcome
    WHERE centre_id = NEW.centre_id AND session_id = NEW.session_id;
    RETURN NULL;
END
$$;
REVOKE EXECUTE ON FUNCTION note_outcome() FROM PUBLIC;
CREATE TRIGGER note_outcome AFTER INSERT ON results FOR EACH ROW EXECUTE FUNCTION note_outcome();

ALTER TABLE sessions ADD COLUMN standing text NOT NULL GENERATED ALWAYS AS (
    coalesce(outcome, given_up, CASE WHEN opened_at IS NULL THEN 'planned' ELSE 'open' END)) STORED;
COMMENT ON COLUMN sessions.standing IS 'How far it has come: planned, open, cancelled, no_show, or the outcome';

-- The plan of a session that was opened is history: evidence was recorded under it.
CREATE FUNCTION keep_plan() RETURNS trigger
    LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'the plan of a session that was opened never changes' USING ERRCODE = 'restrict_violation';
END
$$;
CREATE TRIGGER keep_plan BEFORE UPDATE OF task_id, task_version, candidate_id, assessor, bay, planned_at,
    extra_percent, extra_minutes, length_minutes, turn_round_minutes, resit_of ON sessions
    FOR EACH ROW WHEN (OLD.opened_at IS NOT NULL) EXECUTE FUNCTION keep_plan();

-- The candidate is not among them: a session of somebody else is another session.
GRANT UPDATE (task_id, task_version, assessor, bay, planned_at, extra_percent, extra_minutes, length_minutes,
    turn_round_minutes, given_up, given_up_at, given_up_by, given_up_reason, sequence, changed_at)
    ON sessions TO baywitness_app;

-- Who marks beside the assessor may change until the session is opened; from then on the evidence holds their log.
CREATE FUNCTION keep_second_marker() RETURNS trigger
    LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (SELECT FROM sessions WHERE centre_id = OLD.centre_id AND session_id = OLD.session_id
               AND opened_at IS NOT NULL) THEN
        RAISE EXCEPTION 'the second marker of a session that was opened stays' USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN OLD;
END
$$;
CREATE TRIGGER keep_second_marker BEFORE DELETE ON second_markers
    FOR EACH ROW EXECUTE FUNCTION keep_second_marker();
GRANT DELETE ON second_markers TO baywitness_app;

-- Each state of a plan, by the number that calendars see.
CREATE TABLE session_changes (
    centre_id text NOT NULL,
    session_id uuid NOT NULL,
    sequence integer NOT NULL CHECK (sequence >= 0),
    kind text NOT NULL CHECK (kind IN ('planned', 'changed', 'cancelled', 'no_show')),
    changed_at timestamptz NOT NULL,
    changed_by integer,
    task_id uuid NOT NULL,
    task_version integer NOT NULL,
    assessor integer NOT NULL,
    second_marker integer,
    bay text NOT NULL,
    planned_at timestamptz NOT NULL,
    length_minutes integer NOT NULL,
    turn_round_minutes integer NOT NULL,
    despite text[] NOT NULL,
    PRIMARY KEY (centre_id, session_id, sequence),
    FOREIGN KEY (centre_id, session_id) REFERENCES sessions,
    FOREIGN KEY (centre_id, changed_by) REFERENCES staff,
    FOREIGN KEY (centre_id, task_id, task_version) REFERENCES tasks,
    FOREIGN KEY (centre_id, assessor) REFERENCES staff,
    FOREIGN KEY (centre_id, second_marker) REFERENCES staff
);
COMMENT ON COLUMN session_changes.changed_by IS 'Staff number; none where the service itself planned it';
COMMENT ON COLUMN session_changes.despite IS 'What the person was warned of and planned all the same: assessor, bay, second_marker, planted';
SELECT fence('session_changes');
SELECT keep_for_good('session_changes', 'UPDATE OR DELETE OR TRUNCATE');
GRANT SELECT, INSERT ON session_changes TO baywitness_app;

-- How the assessor knew the candidate. The evidence already says who opened the session and when; this stands beside it
-- and holds no more than one of three words: no number or copy of any document.
CREATE TABLE identity_checks (
    centre_id text NOT NULL,
    session_id uuid NOT NULL,
    how text NOT NULL CHECK (how IN ('known', 'photo', 'card')),
    confirmed_by integer NOT NULL,
    confirmed_at timestamptz NOT NULL,
    PRIMARY KEY (centre_id, session_id),
    FOREIGN KEY (centre_id, session_id) REFERENCES sessions,
    FOREIGN KEY (centre_id, confirmed_by) REFERENCES staff
);
COMMENT ON COLUMN identity_checks.how IS 'Known to the assessor, a document with a photograph, or the centre''s own card';
SELECT fence('identity_checks');
SELECT keep_for_good('identity_checks', 'UPDATE OR DELETE OR TRUNCATE');
GRANT SELECT, INSERT ON identity_checks TO baywitness_app;

-- Private addresses under which a calendar program fetches the plan. Only hashes, as with every secret.
CREATE TABLE calendar_feeds (
    centre_id text NOT NULL,
    token_hash bytea NOT NULL CHECK (octet_length(token_hash) = 32),
    staff_number integer NOT NULL,
    made_at timestamptz NOT NULL,
    revoked_at timestamptz,
    PRIMARY KEY (centre_id, token_hash),
    FOREIGN KEY (centre_id, staff_number) REFERENCES staff
);
COMMENT ON COLUMN calendar_feeds.token_hash IS 'SHA-256 of the token in the address';
CREATE INDEX calendar_feeds_of_staff ON calendar_feeds (centre_id, staff_number);
SELECT fence('calendar_feeds');
GRANT SELECT, INSERT, UPDATE (revoked_at) ON calendar_feeds TO baywitness_app;

-- Lists go by time, newest first, whichever way they are looked through, and go on from the last row shown.
DROP INDEX sessions_by_time;
CREATE INDEX sessions_by_time ON sessions (centre_id, planned_at, session_id);
CREATE INDEX sessions_by_candidate ON sessions (centre_id, candidate_id, planned_at, session_id);
CREATE INDEX sessions_by_task ON sessions (centre_id, task_id, planned_at, session_id);
CREATE INDEX sessions_by_assessor ON sessions (centre_id, assessor, planned_at, session_id);
CREATE INDEX sessions_by_standing ON sessions (centre_id, standing, planned_at, session_id);
CREATE INDEX sessions_by_resit ON sessions (centre_id, resit_of) WHERE resit_of IS NOT NULL;
CREATE INDEX second_markers_by_marker ON second_markers (centre_id, marker, session_id);
