-- When a candidate may read a signed result. Each step is a row: that something was held, told, opened or taken back, by
-- whom and why, stays to be read. The last row counts.
CREATE TABLE releases (
    centre_id text NOT NULL,
    session_id uuid NOT NULL,
    ordinal integer NOT NULL CHECK (ordinal > 0),
    state text NOT NULL CHECK (state IN ('planned', 'waiting', 'held', 'told', 'released', 'withdrawn')),
    opens_at timestamptz,
    by integer,
    at timestamptz NOT NULL,
    reason text CHECK (char_length(reason) BETWEEN 1 AND 2000),
    PRIMARY KEY (centre_id, session_id, ordinal),
    FOREIGN KEY (centre_id, session_id) REFERENCES results,
    FOREIGN KEY (centre_id, by) REFERENCES staff,
    CHECK ((opens_at IS NOT NULL) = (state IN ('planned', 'told', 'released'))),
    CHECK (by IS NOT NULL OR state IN ('planned', 'waiting')),
    CHECK (by IS NULL OR state <> 'waiting'),
    CHECK (reason IS NOT NULL OR state NOT IN ('held', 'withdrawn'))
);
COMMENT ON COLUMN releases.state IS 'planned: opens at a set moment, by the centre''s rule or a person; waiting: until the candidate was told in person; held, withdrawn: by a person; told, released: opened by a person';
COMMENT ON COLUMN releases.opens_at IS 'From when on the candidate may read it';
COMMENT ON COLUMN releases.by IS 'Staff number; nobody where the centre''s rule did it';
SELECT fence('releases');
GRANT SELECT, INSERT ON releases TO baywitness_app;

-- A candidate's request to look at a result again; one for each session.
CREATE TABLE reviews (
    centre_id text NOT NULL,
    session_id uuid NOT NULL,
    asked_at timestamptz NOT NULL,
    reason text NOT NULL CHECK (char_length(reason) BETWEEN 1 AND 2000),
    PRIMARY KEY (centre_id, session_id),
    FOREIGN KEY (centre_id, session_id) REFERENCES results
);
CREATE INDEX reviews_by_time ON reviews (centre_id, asked_at, session_id);
SELECT fence('reviews');
GRANT SELECT, INSERT ON reviews TO baywitness_app;

CREATE TABLE review_ends (
    centre_id text NOT NULL,
    session_id uuid NOT NULL,
    how text NOT NULL CHECK (how IN ('upheld', 'amended')),
    words text NOT NULL CHECK (char_length(words) BETWEEN 1 AND 2000),
    by integer NOT NULL,
    at timestamptz NOT NULL,
    PRIMARY KEY (centre_id, session_id),
    FOREIGN KEY (centre_id, session_id) REFERENCES reviews,
    FOREIGN KEY (centre_id, by) REFERENCES staff
);
COMMENT ON COLUMN review_ends.words IS 'What the candidate is told';
SELECT fence('review_ends');
GRANT SELECT, INSERT ON review_ends TO baywitness_app;

-- A verdict that takes the place of the one before. That one stays where it is.
CREATE TABLE amended_results (
    centre_id text NOT NULL,
    session_id uuid NOT NULL,
    ordinal integer NOT NULL CHECK (ordinal > 0),
    outcome text NOT NULL CHECK (outcome IN ('pass', 'fail', 'automatic_fail', 'unfinished')),
    marks integer NOT NULL CHECK (marks >= 0),
    out_of integer NOT NULL CHECK (out_of >= marks),
    percent double precision NOT NULL CHECK (percent BETWEEN 0 AND 100),
    reasons text[] NOT NULL,
    count bigint NOT NULL,
    head text NOT NULL,
    signed_by integer NOT NULL,
    signed_at timestamptz NOT NULL,
    PRIMARY KEY (centre_id, session_id, ordinal),
    FOREIGN KEY (centre_id, session_id) REFERENCES results,
    FOREIGN KEY (centre_id, session_id, count) REFERENCES entries (centre_id, session_id, n),
    FOREIGN KEY (centre_id, signed_by) REFERENCES staff
);
COMMENT ON COLUMN amended_results.ordinal IS 'How many verdicts on this session came before';
COMMENT ON COLUMN amended_results.count IS 'Entries that this signature covers, its amendment and outcome entries included';
CREATE INDEX amended_results_by_time ON amended_results (centre_id, signed_at, session_id);
SELECT fence('amended_results');
SELECT keep_for_good('amended_results', 'UPDATE OR DELETE OR TRUNCATE');
GRANT SELECT, INSERT ON amended_results TO baywitness_app;
CREATE TRIGGER note_outcome AFTER INSERT ON amended_results FOR EACH ROW EXECUTE FUNCTION note_outcome();

CREATE TABLE amendments (
    centre_id text NOT NULL,
    session_id uuid NOT NULL,
    ordinal integer NOT NULL,
    criterion text NOT NULL CHECK (criterion ~ '^[A-Za-z0-9._:-]{1,64}$'),
    outcome text NOT NULL CHECK (outcome IN ('met', 'not_met', 'not_applicable')),
    code text NOT NULL CHECK (code ~ '^[a-z_]{1,40}$'),
    words text NOT NULL CHECK (char_length(words) BETWEEN 1 AND 2000),
    PRIMARY KEY (centre_id, session_id, ordinal, criterion),
    FOREIGN KEY (centre_id, session_id, ordinal) REFERENCES amended_results
);
COMMENT ON COLUMN amendments.code IS 'Why, as the amendment entry of the evidence says it';
SELECT fence('amendments');
GRANT SELECT, INSERT ON amendments TO baywitness_app;

-- Nobody overturns, or upholds, what they signed themselves.
CREATE FUNCTION second_person() RETURNS trigger
    LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (SELECT FROM results WHERE centre_id = NEW.centre_id AND session_id = NEW.session_id
               AND signed_by = (to_jsonb(NEW) ->> TG_ARGV[0])::integer) THEN
        RAISE EXCEPTION 'a result is reviewed by another person than signed it' USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER second_person BEFORE INSERT ON amended_results
    FOR EACH ROW EXECUTE FUNCTION second_person('signed_by');
ALTER TABLE amended_results ENABLE ALWAYS TRIGGER second_person;
CREATE TRIGGER second_person BEFORE INSERT ON review_ends FOR EACH ROW EXECUTE FUNCTION second_person('by');
ALTER TABLE review_ends ENABLE ALWAYS TRIGGER second_person;

-- Free texts among these go with a person's details, inside purge_erased() and nowhere else; nothing else ever changes.
CREATE FUNCTION only_erase_words() RETURNS trigger
    LANGUAGE plpgsql AS $$
BEGIN
    IF to_jsonb(NEW) - TG_ARGV[0] IS DISTINCT FROM to_jsonb(OLD) - TG_ARGV[0]
            OR to_jsonb(NEW) ->> TG_ARGV[0] IS DISTINCT FROM '[erased]' OR NOT EXISTS (
            SELECT FROM sessions JOIN candidates USING (centre_id, candidate_id)
            WHERE centre_id = NEW.centre_id AND session_id = NEW.session_id AND erased_at IS NOT NULL) THEN
        RAISE EXCEPTION 'what is recorded there never changes' USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NEW;
END
$$;
DO $$
DECLARE
    kept record;
BEGIN
    FOR kept IN SELECT * FROM (VALUES ('releases', 'reason'), ('reviews', 'reason'), ('review_ends', 'words'),
                                      ('amendments', 'words')) AS kept (name, words) LOOP
        PERFORM keep_for_good(kept.name::regclass, 'DELETE OR TRUNCATE');
        EXECUTE format('CREATE TRIGGER refuse_update BEFORE UPDATE ON %I
                        FOR EACH STATEMENT EXECUTE FUNCTION refuse_change_but_erasing()', kept.name);
        EXECUTE format('ALTER TABLE %I ENABLE ALWAYS TRIGGER refuse_update', kept.name);
        EXECUTE format('CREATE TRIGGER only_erase_words BEFORE UPDATE ON %I
                        FOR EACH ROW EXECUTE FUNCTION only_erase_words(%L)', kept.name, kept.words);
        EXECUTE format('ALTER TABLE %I ENABLE ALWAYS TRIGGER only_erase_words', kept.name);
    END LOOP;
END
$$;

CREATE OR REPLACE FUNCTION purge_erased(erased uuid) RETURNS void
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
    UPDATE public.releases SET reason = '[erased]'
    WHERE centre_id = here AND session_id = ANY (theirs) AND reason <> '[erased]';
    UPDATE public.reviews SET reason = '[erased]'
    WHERE centre_id = here AND session_id = ANY (theirs) AND reason <> '[erased]';
    UPDATE public.review_ends SET words = '[erased]'
    WHERE centre_id = here AND session_id = ANY (theirs) AND words <> '[erased]';
    UPDATE public.amendments SET words = '[erased]'
    WHERE centre_id = here AND session_id = ANY (theirs) AND words <> '[erased]';
    PERFORM set_config('baywitness.erasing', '', true);
    DELETE FROM public.feedback_visits v USING public.feedback_links l
    WHERE v.centre_id = here AND l.centre_id = here AND l.token_hash = v.token_hash AND l.session_id = ANY (theirs);
    DELETE FROM public.feedback_links WHERE centre_id = here AND session_id = ANY (theirs);
END
$$;

-- What was signed before could be read at once. The owner is fenced in as well, so the fences are lowered for this.
ALTER TABLE results NO FORCE ROW LEVEL SECURITY;
ALTER TABLE releases NO FORCE ROW LEVEL SECURITY;
INSERT INTO releases (centre_id, session_id, ordinal, state, opens_at, at)
SELECT centre_id, session_id, 1, 'planned', signed_at, signed_at FROM results;
ALTER TABLE results FORCE ROW LEVEL SECURITY;
ALTER TABLE releases FORCE ROW LEVEL SECURITY;
