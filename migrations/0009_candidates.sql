-- What the centre knows of a candidate: how to call them, how they sort, and what was agreed for them. The reason for an
-- adjustment has no column: it may tell of their health, and marking does not need it.
ALTER TABLE candidates
    ADD COLUMN called text CHECK (char_length(called) BETWEEN 1 AND 200),
    ADD COLUMN sort_name text CHECK (char_length(sort_name) BETWEEN 1 AND 200),
    ADD COLUMN extra_percent integer NOT NULL DEFAULT 0 CHECK (extra_percent BETWEEN 0 AND 1000),
    ADD COLUMN extra_minutes integer NOT NULL DEFAULT 0 CHECK (extra_minutes BETWEEN 0 AND 1000),
    ADD COLUMN reader boolean NOT NULL DEFAULT false,
    ADD COLUMN other_adjustment text CHECK (char_length(other_adjustment) BETWEEN 1 AND 500),
    -- Those who are there already count as added now: when they were was not kept.
    ADD COLUMN added_at timestamptz NOT NULL DEFAULT now(),
    ADD COLUMN erased_at timestamptz,
    ADD COLUMN sort_key text COLLATE "C" NOT NULL DEFAULT '';
ALTER TABLE candidates ALTER COLUMN added_at DROP DEFAULT, ALTER COLUMN sort_key DROP DEFAULT;
COMMENT ON COLUMN candidates.name IS 'As typed, in normal form C';
COMMENT ON COLUMN candidates.called IS 'What to call them, where that is not the name';
COMMENT ON COLUMN candidates.sort_name IS 'What they are sorted by, where that is not the name';
COMMENT ON COLUMN candidates.extra_percent IS 'Agreed adjustment: per cent of a task''s minutes; a session keeps what it was planned with';
COMMENT ON COLUMN candidates.extra_minutes IS 'Agreed adjustment: whole minutes';
COMMENT ON COLUMN candidates.reader IS 'Agreed adjustment: somebody reads to them';
COMMENT ON COLUMN candidates.other_adjustment IS 'Any other that was agreed, never why';
COMMENT ON COLUMN candidates.erased_at IS 'When their details were erased; name and reference then say so';
COMMENT ON COLUMN candidates.sort_key IS 'Folded by the program: without case and accents';
CREATE INDEX candidates_in_order ON candidates (centre_id, sort_key, candidate_id);
GRANT UPDATE (name, called, sort_name, reference, extra_percent, extra_minutes, reader, other_adjustment, erased_at,
              sort_key) ON candidates TO baywitness_app;

-- The words a candidate is found by. A table and not a text search column: under row-level security only operators that
-- cannot leak what they compare may use an index before the fence, and those of text search and LIKE are not among
-- them; comparing text is. A beginning is asked for as a range, which "C" keeps in the order of the bytes.
CREATE TABLE candidate_words (
    centre_id text NOT NULL,
    word text COLLATE "C" NOT NULL CHECK (char_length(word) BETWEEN 1 AND 40),
    candidate_id uuid NOT NULL,
    PRIMARY KEY (centre_id, word, candidate_id),
    FOREIGN KEY (centre_id, candidate_id) REFERENCES candidates
);
COMMENT ON TABLE candidate_words IS 'Words of name, called, sorting name and reference, folded by the program';
CREATE INDEX candidate_words_of_candidate ON candidate_words (centre_id, candidate_id, word);
SELECT fence('candidate_words');
GRANT SELECT, INSERT, DELETE ON candidate_words TO baywitness_app;

-- Those who are there already get theirs here, folded as far as the database can; the next change of a candidate gives
-- them the program's own.
-- The owner is fenced in as well, so the fences are lowered for these statements.
ALTER TABLE candidates NO FORCE ROW LEVEL SECURITY;
ALTER TABLE candidate_words NO FORCE ROW LEVEL SECURITY;
UPDATE candidates SET sort_key = regexp_replace(lower(normalize(name, NFKD)), '[\u0300-\u036F]', '', 'g');
INSERT INTO candidate_words (centre_id, word, candidate_id)
SELECT DISTINCT centre_id, left(word, 40), candidate_id
FROM candidates, regexp_split_to_table(sort_key || ' ' || lower(reference), '[^[:alnum:]]+') AS word
WHERE word <> '';
ALTER TABLE candidates FORCE ROW LEVEL SECURITY;
ALTER TABLE candidate_words FORCE ROW LEVEL SECURITY;

-- Whose details were erased, when, by whom, and how much went. It names nobody, is never changed, and is kept outside as
-- well: after an older backup is restored, everybody on it is erased again.
CREATE TABLE erasures (
    centre_id text NOT NULL,
    candidate_id uuid NOT NULL,
    erased_at timestamptz NOT NULL,
    erased_by integer NOT NULL,
    despite text CHECK (despite IN ('withdrawn', 'unlawful', 'ordered', 'entered_twice')),
    sessions integer NOT NULL CHECK (sessions >= 0),
    texts integer NOT NULL CHECK (texts >= 0),
    reasons integer NOT NULL CHECK (reasons >= 0),
    links integer NOT NULL CHECK (links >= 0),
    PRIMARY KEY (centre_id, candidate_id),
    FOREIGN KEY (centre_id, candidate_id) REFERENCES candidates,
    FOREIGN KEY (centre_id, erased_by) REFERENCES staff
);
COMMENT ON COLUMN erasures.despite IS 'Why it was done although a session ran or a review could still be asked for';
COMMENT ON COLUMN erasures.texts IS 'Free texts, and details kept with the evidence, that were deleted with their salts';
COMMENT ON COLUMN erasures.reasons IS 'Reasons of decisions that were made unreadable';
SELECT fence('erasures');
SELECT keep_for_good('erasures', 'UPDATE OR DELETE OR TRUNCATE');
GRANT SELECT, INSERT ON erasures TO baywitness_app;

-- A decision stays as it is, and so does that it had a reason; what the reason says is a free text like others and goes
-- with the person's details. Inside purge_erased() and nowhere else, and nothing but that.
DROP TRIGGER refuse_change ON decisions;
SELECT keep_for_good('decisions', 'DELETE OR TRUNCATE');
CREATE FUNCTION refuse_change_but_erasing() RETURNS trigger
    LANGUAGE plpgsql AS $$
BEGIN
    IF coalesce(current_setting('baywitness.erasing', true), '') = '' THEN
        RAISE EXCEPTION '% on % is refused: what is recorded there never changes', TG_OP, TG_TABLE_NAME
            USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NULL;
END
$$;
CREATE TRIGGER refuse_update BEFORE UPDATE ON decisions
    FOR EACH STATEMENT EXECUTE FUNCTION refuse_change_but_erasing();
ALTER TABLE decisions ENABLE ALWAYS TRIGGER refuse_update;
CREATE FUNCTION only_erase_a_reason() RETURNS trigger
    LANGUAGE plpgsql AS $$
BEGIN
    OLD.reason := '[erased]';
    IF NEW IS DISTINCT FROM OLD OR NOT EXISTS (
            SELECT FROM sessions JOIN candidates USING (centre_id, candidate_id)
            WHERE centre_id = NEW.centre_id AND session_id = NEW.session_id AND erased_at IS NOT NULL) THEN
        RAISE EXCEPTION 'a decision never changes' USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER only_erase_a_reason BEFORE UPDATE ON decisions
    FOR EACH ROW EXECUTE FUNCTION only_erase_a_reason();
ALTER TABLE decisions ENABLE ALWAYS TRIGGER only_erase_a_reason;

-- What the application itself may not delete: the free texts of an erased candidate's sessions with their salts, what
-- the reasons of decisions on them say, and the links to the feedback. The candidate's own row must say already that
-- it is erased, and the list of erasures that they are on it: nothing can be removed without a trace.
CREATE FUNCTION purge_erased(erased uuid) RETURNS void
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    here text := public.this_centre();
    theirs uuid[];
BEGIN
    IF NOT EXISTS (SELECT FROM public.candidates JOIN public.erasures USING (centre_id, candidate_id)
                   WHERE centre_id = here AND candidate_id = erased AND candidates.erased_at IS NOT NULL) THEN
        RAISE EXCEPTION 'candidate % is not erased', erased USING ERRCODE = 'restrict_violation';
    END IF;
    theirs := ARRAY(SELECT session_id FROM public.sessions WHERE centre_id = here AND candidate_id = erased);
    DELETE FROM public.texts WHERE centre_id = here AND session_id = ANY (theirs);
    -- Not a SET of the function: only a superuser may give a function a setting that PostgreSQL does not know.
    PERFORM set_config('baywitness.erasing', erased::text, true);
    UPDATE public.decisions SET reason = '[erased]'
    WHERE centre_id = here AND session_id = ANY (theirs) AND reason <> '[erased]';
    PERFORM set_config('baywitness.erasing', '', true);
    DELETE FROM public.feedback_visits v USING public.feedback_links l
    WHERE v.centre_id = here AND l.centre_id = here AND l.token_hash = v.token_hash AND l.session_id = ANY (theirs);
    DELETE FROM public.feedback_links WHERE centre_id = here AND session_id = ANY (theirs);
END
$$;
REVOKE EXECUTE ON FUNCTION purge_erased(uuid) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION purge_erased(uuid) TO baywitness_app;
