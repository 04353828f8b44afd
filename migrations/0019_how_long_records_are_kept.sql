-- How long each kind of record is kept, what is due when, and the erasing of it. UK GDPR article 5(1)(e): kept in a form
-- that names people no longer than is needed. Nothing is erased by itself until a manager has confirmed the periods: whose
-- decision it is, in that person's name it is done.
ALTER TABLE centres
    ADD COLUMN keep_fails_months smallint NOT NULL DEFAULT 24 CHECK (keep_fails_months BETWEEN 3 AND 240),
    ADD COLUMN keep_invitations_months smallint NOT NULL DEFAULT 3 CHECK (keep_invitations_months BETWEEN 1 AND 60),
    ADD COLUMN keep_sign_ins_months smallint NOT NULL DEFAULT 1 CHECK (keep_sign_ins_months BETWEEN 1 AND 24),
    ADD COLUMN keep_deeds_months smallint NOT NULL DEFAULT 72 CHECK (keep_deeds_months BETWEEN 12 AND 240),
    ADD COLUMN periods_set_by integer,
    ADD COLUMN periods_set_at timestamptz,
    ADD CONSTRAINT periods_say_who_and_when CHECK ((periods_set_by IS NULL) = (periods_set_at IS NULL)),
    ADD FOREIGN KEY (centre_id, periods_set_by) REFERENCES staff,
    ALTER COLUMN keep_exports_months SET DEFAULT 24;
COMMENT ON COLUMN centres.keep_evidence_months IS 'That evidence and result of a pass belong to a person, counted from the signature';
COMMENT ON COLUMN centres.keep_fails_months IS 'The same of every other outcome';
COMMENT ON COLUMN centres.keep_exports_months IS 'The record of who exported what, counted from when it was begun; the files go after a day';
COMMENT ON COLUMN centres.keep_invitations_months IS 'Invitations, links to a new password and calendar addresses, counted from when they ended';
COMMENT ON COLUMN centres.keep_sign_ins_months IS 'Sign-ins that ended, and counts of tries';
COMMENT ON COLUMN centres.keep_deeds_months IS 'The record of who did what';
COMMENT ON COLUMN centres.periods_set_by IS 'Who confirmed the periods last; nothing is erased by itself where nobody has';
GRANT UPDATE (keep_fails_months, keep_invitations_months, keep_sign_ins_months, keep_deeds_months, periods_set_by,
              periods_set_at) ON centres TO baywitness_app;
-- What stood there was meant for the files, which go after a day. The owner is fenced in as well.
ALTER TABLE centres NO FORCE ROW LEVEL SECURITY;
UPDATE centres SET keep_exports_months = 24 WHERE keep_exports_months < 6;
ALTER TABLE centres FORCE ROW LEVEL SECURITY;

-- When a candidate's last session was that is theirs no longer: their details are still counted from it.
ALTER TABLE candidates ADD COLUMN last_session_at timestamptz;
COMMENT ON COLUMN candidates.last_session_at IS 'The newest session that was cut off from them, where there is one';

-- A session that is cut off from its candidate belongs to a stand-in of its own from then on: somebody erased who never
-- had details.
ALTER TABLE erasures ADD COLUMN stand_in boolean NOT NULL DEFAULT false;
COMMENT ON COLUMN erasures.stand_in IS 'Nobody was erased: one session was cut off from its candidate';

-- Sessions whose words are gone although they are still somebody's.
CREATE TABLE erased_words (
    centre_id text NOT NULL,
    session_id uuid NOT NULL,
    erased_at timestamptz NOT NULL,
    PRIMARY KEY (centre_id, session_id),
    FOREIGN KEY (centre_id, session_id) REFERENCES sessions
);
SELECT fence('erased_words');
SELECT keep_for_good('erased_words', 'UPDATE OR DELETE OR TRUNCATE');
GRANT SELECT ON erased_words TO baywitness_app;

-- What must not be erased for now, and why: one of a few words, for free ones would name the person.
CREATE TABLE holds (
    centre_id text NOT NULL REFERENCES centres,
    n integer NOT NULL CHECK (n > 0),
    candidate_id uuid NOT NULL,
    session_id uuid,
    reason text NOT NULL CHECK (reason IN ('appeal', 'claim', 'inquiry', 'accident', 'asked')),
    set_at timestamptz NOT NULL,
    set_by integer NOT NULL,
    lifted_at timestamptz,
    lifted_by integer,
    PRIMARY KEY (centre_id, n),
    FOREIGN KEY (centre_id, candidate_id) REFERENCES candidates,
    FOREIGN KEY (centre_id, session_id) REFERENCES sessions,
    FOREIGN KEY (centre_id, set_by) REFERENCES staff,
    FOREIGN KEY (centre_id, lifted_by) REFERENCES staff,
    CHECK ((lifted_at IS NULL) = (lifted_by IS NULL))
);
COMMENT ON COLUMN holds.session_id IS 'The one session that is held; everything of the candidate where there is none';
CREATE INDEX holds_of_candidate ON holds (centre_id, candidate_id) WHERE lifted_at IS NULL;
SELECT fence('holds');
SELECT keep_for_good('holds', 'DELETE OR TRUNCATE');
GRANT SELECT, INSERT, UPDATE (lifted_at, lifted_by) ON holds TO baywitness_app;

-- What each run erased: a row for each batch, in the transaction that erased it, so that a run that broke off is told
-- rightly as well.
CREATE TABLE keeping_runs (
    centre_id text NOT NULL REFERENCES centres,
    run integer NOT NULL CHECK (run > 0),
    day date NOT NULL,
    began_at timestamptz NOT NULL,
    ended_at timestamptz,
    PRIMARY KEY (centre_id, run)
);
COMMENT ON COLUMN keeping_runs.day IS 'By the centre''s own calendar; there is one run by itself a day';
COMMENT ON COLUMN keeping_runs.ended_at IS 'None while it runs, and where it broke off; the next one goes on with it';
SELECT fence('keeping_runs');
SELECT keep_for_good('keeping_runs', 'DELETE OR TRUNCATE');
GRANT SELECT, INSERT, UPDATE (ended_at) ON keeping_runs TO baywitness_app;

CREATE TABLE keeping_counts (
    centre_id text NOT NULL,
    run integer NOT NULL,
    step integer NOT NULL CHECK (step > 0),
    kind text NOT NULL,
    erased integer NOT NULL CHECK (erased > 0),
    PRIMARY KEY (centre_id, run, step),
    FOREIGN KEY (centre_id, run) REFERENCES keeping_runs
);
SELECT fence('keeping_counts');
SELECT keep_for_good('keeping_counts', 'UPDATE OR DELETE OR TRUNCATE');
GRANT SELECT, INSERT ON keeping_counts TO baywitness_app;

-- The last signature on each session, and the sessions whose result somebody has asked to be looked at again. Reviews and
-- amended results are tables of another migration, which an older database may not have.
DO $$
DECLARE
    reviews text := 'SELECT centre_id, session_id FROM results WHERE false';
    signatures text := 'SELECT centre_id, session_id, signed_at FROM results';
BEGIN
    IF to_regclass('public.reviews') IS NOT NULL THEN
        reviews := 'SELECT centre_id, session_id FROM reviews r WHERE NOT EXISTS (SELECT FROM review_ends e
            WHERE e.centre_id = r.centre_id AND e.session_id = r.session_id)';
        signatures := 'SELECT r.centre_id, r.session_id, coalesce((SELECT max(a.signed_at) FROM amended_results a
            WHERE a.centre_id = r.centre_id AND a.session_id = r.session_id), r.signed_at) AS signed_at FROM results r';
    END IF;
    EXECUTE 'CREATE VIEW open_reviews WITH (security_invoker = true) AS ' || reviews;
    EXECUTE 'CREATE VIEW last_signatures WITH (security_invoker = true) AS ' || signatures;
END
$$;
GRANT SELECT ON open_reviews, last_signatures TO baywitness_app;

-- Whom or which session a hold that stands is about. Joined and not asked for row by row: a hundred thousand sessions are
-- looked through at once.
CREATE VIEW standing_holds WITH (security_invoker = true) AS
SELECT DISTINCT centre_id, candidate_id, session_id FROM holds WHERE lifted_at IS NULL;
GRANT SELECT ON standing_holds TO baywitness_app;

-- Each opened session that is still somebody's: until when, and what forbids it for now. No earlier than a review can be
-- asked for, which is counted from the release.
CREATE VIEW kept_sessions WITH (security_invoker = true) AS
SELECT s.centre_id, s.session_id, s.candidate_id, s.planned_at, coalesce(l.signed_at, s.opened_at) AS since,
       coalesce(s.outcome, 'open') AS outcome,
       greatest(l.signed_at + make_interval(months => t.months), t.until) AS due_at,
       greatest(l.signed_at + make_interval(months => least(z.keep_texts_months, t.months)), t.until) AS words_due_at,
       CASE WHEN l.signed_at IS NULL THEN 'running' WHEN r.session_id IS NOT NULL THEN 'review'
            WHEN hs.session_id IS NOT NULL OR hc.candidate_id IS NOT NULL THEN 'hold' END AS held
FROM sessions s
JOIN centres z ON z.centre_id = s.centre_id
JOIN candidates c ON c.centre_id = s.centre_id AND c.candidate_id = s.candidate_id
LEFT JOIN last_signatures l ON l.centre_id = s.centre_id AND l.session_id = s.session_id
LEFT JOIN open_reviews r ON r.centre_id = s.centre_id AND r.session_id = s.session_id
LEFT JOIN (SELECT DISTINCT centre_id, session_id FROM standing_holds WHERE session_id IS NOT NULL) hs
    ON hs.centre_id = s.centre_id AND hs.session_id = s.session_id
LEFT JOIN (SELECT DISTINCT centre_id, candidate_id FROM standing_holds WHERE session_id IS NULL) hc
    ON hc.centre_id = s.centre_id AND hc.candidate_id = s.candidate_id
CROSS JOIN LATERAL (SELECT
    CASE WHEN s.outcome = 'pass' THEN z.keep_evidence_months ELSE z.keep_fails_months END AS months,
    l.signed_at + make_interval(days => z.review_days
        + CASE z.release WHEN 'at_time' THEN z.release_days ELSE 0 END) AS until) t
WHERE s.opened_at IS NOT NULL AND c.erased_at IS NULL;
GRANT SELECT ON kept_sessions TO baywitness_app;

-- Plans that were given up, with the words that say why.
CREATE VIEW kept_plans WITH (security_invoker = true) AS
SELECT s.centre_id, s.session_id, s.given_up_at AS since,
       s.given_up_at + make_interval(months => z.keep_texts_months) AS words_due_at,
       CASE WHEN EXISTS (SELECT FROM standing_holds h WHERE h.centre_id = s.centre_id AND h.candidate_id = s.candidate_id
                         AND coalesce(h.session_id = s.session_id, true)) THEN 'hold' END AS held
FROM sessions s
JOIN centres z ON z.centre_id = s.centre_id
JOIN candidates c ON c.centre_id = s.centre_id AND c.candidate_id = s.candidate_id
WHERE s.given_up_reason <> '[erased]' AND c.erased_at IS NULL;
GRANT SELECT ON kept_plans TO baywitness_app;

-- Everything that is kept for a time: its kind, which one, since when, from when on it is to be erased, and what forbids
-- that for now. The pages, the dry run and the erasing read this and nothing else, so that they cannot differ. Each part
-- has one kind, so that whoever asks for a kind reads no other.
CREATE VIEW kept WITH (security_invoker = true) AS
SELECT centre_id, 'open' AS kind, session_id::text AS thing, since, due_at, held FROM kept_sessions WHERE outcome = 'open'
UNION ALL
SELECT centre_id, 'passes', session_id::text, since, due_at, held FROM kept_sessions WHERE outcome = 'pass'
UNION ALL
SELECT centre_id, 'fails', session_id::text, since, due_at, held FROM kept_sessions WHERE outcome NOT IN ('open', 'pass')
UNION ALL
SELECT k.centre_id, 'words', k.session_id::text, k.since, k.words_due_at, k.held FROM kept_sessions k
WHERE EXISTS (SELECT FROM texts t WHERE t.centre_id = k.centre_id AND t.session_id = k.session_id AND t.n > 1)
   OR EXISTS (SELECT FROM decisions d WHERE d.centre_id = k.centre_id AND d.session_id = k.session_id
              AND d.reason <> '[erased]')
UNION ALL
SELECT centre_id, 'words', session_id::text, since, words_due_at, held FROM kept_plans
UNION ALL
-- A tablet that was offline may send a note when whom it is about is erased already: it goes at once.
SELECT s.centre_id, 'words', s.session_id::text, c.erased_at, c.erased_at, NULL
FROM candidates c JOIN sessions s ON s.centre_id = c.centre_id AND s.candidate_id = c.candidate_id
WHERE c.erased_at IS NOT NULL
  AND EXISTS (SELECT FROM texts t WHERE t.centre_id = s.centre_id AND t.session_id = s.session_id)
UNION ALL
SELECT c.centre_id, 'candidates', c.candidate_id::text, w.since,
       greatest(w.since + make_interval(months => z.keep_candidates_months), e.due_at),
       CASE WHEN e.running THEN 'running' WHEN e.review THEN 'review' WHEN h.candidate_id IS NOT NULL THEN 'hold' END
FROM candidates c
JOIN centres z ON z.centre_id = c.centre_id
LEFT JOIN (SELECT centre_id, candidate_id, max(planned_at) AS planned_at FROM sessions GROUP BY centre_id, candidate_id) s
    ON s.centre_id = c.centre_id AND s.candidate_id = c.candidate_id
LEFT JOIN (SELECT centre_id, candidate_id, max(due_at) AS due_at, bool_or(held = 'running') AS running,
                  bool_or(held = 'review') AS review
           FROM kept_sessions GROUP BY centre_id, candidate_id) e
    ON e.centre_id = c.centre_id AND e.candidate_id = c.candidate_id
LEFT JOIN (SELECT DISTINCT centre_id, candidate_id FROM standing_holds) h
    ON h.centre_id = c.centre_id AND h.candidate_id = c.candidate_id
CROSS JOIN LATERAL (SELECT greatest(c.added_at, c.last_session_at, s.planned_at) AS since) w
WHERE c.erased_at IS NULL
UNION ALL
SELECT l.centre_id, 'links', encode(l.token_hash, 'hex'), l.made_at,
       least(l.made_at + make_interval(months => z.keep_links_months), k.due_at), k.held
FROM feedback_links l
JOIN centres z ON z.centre_id = l.centre_id
LEFT JOIN kept_sessions k ON k.centre_id = l.centre_id AND k.session_id = l.session_id
UNION ALL
SELECT i.centre_id, 'invitations', encode(i.token_hash, 'hex'), i.made_at,
       least(i.used_at, i.withdrawn_at, i.expires_at) + make_interval(months => z.keep_invitations_months), NULL
FROM invitations i JOIN centres z ON z.centre_id = i.centre_id
UNION ALL
SELECT f.centre_id, 'invitations', encode(f.token_hash, 'hex'), f.made_at,
       f.revoked_at + make_interval(months => z.keep_invitations_months), NULL
FROM calendar_feeds f JOIN centres z ON z.centre_id = f.centre_id
UNION ALL
SELECT i.centre_id, 'sign_ins', encode(i.token_hash, 'hex'), i.started_at,
       i.started_at + interval '12 hours' + make_interval(months => z.keep_sign_ins_months), NULL
FROM sign_ins i JOIN centres z ON z.centre_id = i.centre_id
UNION ALL
SELECT t.centre_id, 'sign_ins', t.counted, t.full_at, t.full_at + make_interval(months => z.keep_sign_ins_months), NULL
FROM sign_in_tries t JOIN centres z ON z.centre_id = t.centre_id
UNION ALL
SELECT e.centre_id, 'exports', e.export_id::text, e.begun_at,
       e.begun_at + make_interval(months => z.keep_exports_months), NULL
FROM exports e JOIN centres z ON z.centre_id = e.centre_id
UNION ALL
SELECT d.centre_id, 'deeds', d.n::text, d.at, d.at + make_interval(months => z.keep_deeds_months), NULL
FROM deeds d JOIN centres z ON z.centre_id = d.centre_id;
GRANT SELECT ON kept TO baywitness_app;

-- The plan of a session that was opened is history, but whose it was can be cut off: to a stand-in, or from a session
-- that repeats one that is cut off. The application may write neither column.
CREATE OR REPLACE FUNCTION keep_plan() RETURNS trigger
    LANGUAGE plpgsql AS $$
DECLARE
    free text[] := ARRAY['candidate_id', 'resit_of', 'standing'];
BEGIN
    IF coalesce(current_setting('baywitness.erasing', true), '') <> '' AND NEW.resit_of IS NULL
            AND to_jsonb(NEW) - free = to_jsonb(OLD) - free
            AND (NEW.candidate_id = OLD.candidate_id OR EXISTS (
                SELECT FROM public.candidates WHERE centre_id = NEW.centre_id AND candidate_id = NEW.candidate_id
                AND erased_at IS NOT NULL)) THEN
        RETURN NEW;
    END IF;
    RAISE EXCEPTION 'the plan of a session that was opened never changes' USING ERRCODE = 'restrict_violation';
END
$$;

-- A reason of a decision goes with the person's details, or with the other words of the session.
CREATE OR REPLACE FUNCTION only_erase_a_reason() RETURNS trigger
    LANGUAGE plpgsql AS $$
BEGIN
    OLD.reason := '[erased]';
    IF NEW IS DISTINCT FROM OLD OR NOT (
            EXISTS (SELECT FROM public.sessions JOIN public.candidates USING (centre_id, candidate_id)
                    WHERE centre_id = NEW.centre_id AND session_id = NEW.session_id AND erased_at IS NOT NULL)
            OR EXISTS (SELECT FROM public.erased_words
                       WHERE centre_id = NEW.centre_id AND session_id = NEW.session_id)) THEN
        RAISE EXCEPTION 'a decision never changes' USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NEW;
END
$$;

-- Cuts a session off from its candidate: it belongs to a stand-in who is erased, and loses everything that somebody who is
-- erased loses. Its chain stays and verifies.
CREATE FUNCTION cut_off(session uuid, stand_in uuid, at timestamptz) RETURNS void
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    here text := public.this_centre();
    whose uuid;
    planned timestamptz;
    texts integer;
    reasons integer;
    links integer;
BEGIN
    SELECT k.candidate_id, k.planned_at INTO whose, planned
    FROM public.kept_sessions k JOIN public.centres z ON z.centre_id = k.centre_id
    WHERE k.centre_id = here AND k.session_id = session AND k.due_at <= at AND k.held IS NULL
      AND z.periods_set_by IS NOT NULL;
    IF whose IS NULL THEN
        RAISE EXCEPTION 'session % is not due', session USING ERRCODE = 'restrict_violation';
    END IF;
    SELECT count(*) INTO texts FROM public.texts t WHERE t.centre_id = here AND t.session_id = session;
    SELECT count(*) INTO reasons FROM public.decisions d
    WHERE d.centre_id = here AND d.session_id = session AND d.reason <> '[erased]';
    SELECT count(*) INTO links FROM public.feedback_links l WHERE l.centre_id = here AND l.session_id = session;
    INSERT INTO public.candidates (centre_id, candidate_id, name, reference, added_at, erased_at, sort_key)
    VALUES (here, stand_in, 'erased', 'erased-' || replace(stand_in::text, '-', ''), at, at, '');
    INSERT INTO public.erasures (centre_id, candidate_id, erased_at, erased_by, sessions, texts, reasons, links, stand_in)
    SELECT here, stand_in, at, periods_set_by, 1, texts, reasons, links, true FROM public.centres WHERE centre_id = here;
    UPDATE public.candidates c SET last_session_at = greatest(c.last_session_at, planned)
    WHERE c.centre_id = here AND c.candidate_id = whose;
    -- Not a SET of the function: only a superuser may give a function a setting that PostgreSQL does not know.
    PERFORM set_config('baywitness.erasing', stand_in::text, true);
    UPDATE public.sessions s SET candidate_id = stand_in, resit_of = NULL
    WHERE s.centre_id = here AND s.session_id = session;
    UPDATE public.sessions s SET resit_of = NULL WHERE s.centre_id = here AND s.resit_of = session;
    PERFORM set_config('baywitness.erasing', '', true);
    PERFORM public.purge_erased(stand_in);
END
$$;
REVOKE EXECUTE ON FUNCTION cut_off(uuid, uuid, timestamptz) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION cut_off(uuid, uuid, timestamptz) TO baywitness_app;

-- Removes the free words of a session that stays somebody's. What the first entry commits to, who it was, stays.
CREATE FUNCTION erase_words(session uuid, at timestamptz) RETURNS void
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    here text := public.this_centre();
    gone uuid;
BEGIN
    SELECT c.candidate_id INTO gone
    FROM public.sessions s JOIN public.candidates c ON c.centre_id = s.centre_id AND c.candidate_id = s.candidate_id
    WHERE s.centre_id = here AND s.session_id = session AND c.erased_at IS NOT NULL;
    IF gone IS NOT NULL THEN
        PERFORM public.purge_erased(gone);
        RETURN;
    END IF;
    IF NOT EXISTS (
            SELECT FROM public.kept_sessions k JOIN public.centres z ON z.centre_id = k.centre_id
            WHERE k.centre_id = here AND k.session_id = session AND k.words_due_at <= at AND k.held IS NULL
              AND z.periods_set_by IS NOT NULL
            UNION ALL
            SELECT FROM public.kept_plans p JOIN public.centres z ON z.centre_id = p.centre_id
            WHERE p.centre_id = here AND p.session_id = session AND p.words_due_at <= at AND p.held IS NULL
              AND z.periods_set_by IS NOT NULL) THEN
        RAISE EXCEPTION 'the words of session % are not due', session USING ERRCODE = 'restrict_violation';
    END IF;
    INSERT INTO public.erased_words VALUES (here, session, at) ON CONFLICT DO NOTHING;
    DELETE FROM public.texts t WHERE t.centre_id = here AND t.session_id = session AND t.n > 1;
    UPDATE public.sessions s SET given_up_reason = '[erased]'
    WHERE s.centre_id = here AND s.session_id = session AND s.given_up_reason IS NOT NULL;
    PERFORM set_config('baywitness.erasing', session::text, true);
    UPDATE public.decisions d SET reason = '[erased]'
    WHERE d.centre_id = here AND d.session_id = session AND d.reason <> '[erased]';
    PERFORM public.erase_words_of_reviews(here, session);
    PERFORM set_config('baywitness.erasing', '', true);
END
$$;
REVOKE EXECUTE ON FUNCTION erase_words(uuid, timestamptz) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION erase_words(uuid, timestamptz) TO baywitness_app;

-- The same for the words of releases and reviews, where the database has them.
DO $$
DECLARE
    statements text := '';
    one record;
BEGIN
    FOR one IN SELECT * FROM (VALUES ('releases', 'reason'), ('reviews', 'reason'), ('review_ends', 'words'),
                                     ('amendments', 'words')) AS those (name, words)
               WHERE to_regclass('public.' || those.name) IS NOT NULL LOOP
        statements := statements || format('UPDATE public.%1$I SET %2$I = ''[erased]''
            WHERE centre_id = $1 AND session_id = $2 AND %2$I <> ''[erased]'';', one.name, one.words);
    END LOOP;
    EXECUTE format('CREATE FUNCTION erase_words_of_reviews(text, uuid) RETURNS void LANGUAGE sql
        SET search_path = pg_catalog, pg_temp AS %L', statements || 'SELECT');
    IF to_regprocedure('public.only_erase_words()') IS NOT NULL THEN
        CREATE OR REPLACE FUNCTION only_erase_words() RETURNS trigger
            LANGUAGE plpgsql AS $body$
        BEGIN
            IF to_jsonb(NEW) - TG_ARGV[0] IS DISTINCT FROM to_jsonb(OLD) - TG_ARGV[0]
                    OR to_jsonb(NEW) ->> TG_ARGV[0] IS DISTINCT FROM '[erased]' OR NOT (
                    EXISTS (SELECT FROM public.sessions JOIN public.candidates USING (centre_id, candidate_id)
                            WHERE centre_id = NEW.centre_id AND session_id = NEW.session_id AND erased_at IS NOT NULL)
                    OR EXISTS (SELECT FROM public.erased_words
                               WHERE centre_id = NEW.centre_id AND session_id = NEW.session_id)) THEN
                RAISE EXCEPTION 'what is recorded there never changes' USING ERRCODE = 'restrict_violation';
            END IF;
            RETURN NEW;
        END
        $body$;
    END IF;
END
$$;
REVOKE EXECUTE ON FUNCTION erase_words_of_reviews(text, uuid) FROM PUBLIC;

-- The record of who did what and who exported what goes when its time has come, inside forget_old() and nowhere else.
DROP TRIGGER refuse_change ON deeds;
DROP TRIGGER refuse_change ON exports;
DROP TRIGGER refuse_change ON export_ends;
SELECT keep_for_good(kept, 'UPDATE OR TRUNCATE')
FROM (VALUES ('deeds'::regclass), ('exports'::regclass), ('export_ends'::regclass)) AS those (kept);
CREATE FUNCTION only_forget_the_old() RETURNS trigger
    LANGUAGE plpgsql AS $$
DECLARE
    made timestamptz := coalesce(to_jsonb(OLD) ->> 'at', to_jsonb(OLD) ->> 'begun_at', to_jsonb(OLD) ->> 'ended_at');
    months integer;
BEGIN
    SELECT CASE TG_TABLE_NAME WHEN 'deeds' THEN keep_deeds_months ELSE keep_exports_months END INTO months
    FROM public.centres WHERE centre_id = OLD.centre_id AND periods_set_by IS NOT NULL;
    -- An export ends a while after it began, from which its time is counted.
    IF months IS NULL OR made + make_interval(months => months) - interval '1 day'
            > current_setting('baywitness.erasing', true)::timestamptz THEN
        RAISE EXCEPTION 'a row of % is not due', TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN OLD;
END
$$;
DO $$
DECLARE
    kept text;
BEGIN
    FOREACH kept IN ARRAY ARRAY['deeds', 'exports', 'export_ends'] LOOP
        EXECUTE format('CREATE TRIGGER refuse_delete BEFORE DELETE ON %I
                        FOR EACH STATEMENT EXECUTE FUNCTION refuse_change_but_erasing()', kept);
        EXECUTE format('ALTER TABLE %I ENABLE ALWAYS TRIGGER refuse_delete', kept);
        EXECUTE format('CREATE TRIGGER only_forget_the_old BEFORE DELETE ON %I
                        FOR EACH ROW EXECUTE FUNCTION only_forget_the_old()', kept);
        EXECUTE format('ALTER TABLE %I ENABLE ALWAYS TRIGGER only_forget_the_old', kept);
    END LOOP;
END
$$;

-- Forgets at most so many things of a kind that are due, the oldest first, and answers how many. Those kinds only that
-- hold no evidence.
CREATE FUNCTION forget_old(which text, at timestamptz, most integer) RETURNS integer
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    here text := public.this_centre();
    old text[];
    first_kept bigint;
BEGIN
    IF which NOT IN ('links', 'invitations', 'sign_ins', 'exports', 'deeds') OR NOT EXISTS (
            SELECT FROM public.centres WHERE centre_id = here AND periods_set_by IS NOT NULL) THEN
        RAISE EXCEPTION '% cannot be forgotten', which USING ERRCODE = 'restrict_violation';
    END IF;
    -- The record of deeds counts without a gap, so that only its beginning may go.
    SELECT min(n) INTO first_kept FROM public.deeds d JOIN public.centres z USING (centre_id)
    WHERE which = 'deeds' AND centre_id = here AND d.at + make_interval(months => z.keep_deeds_months) > forget_old.at;
    old := ARRAY(SELECT thing FROM public.kept
                 WHERE centre_id = here AND kind = which AND due_at <= at AND held IS NULL
                   AND (CASE WHEN kind = 'deeds' THEN thing::bigint END < first_kept) IS NOT FALSE
                 ORDER BY due_at, thing LIMIT most);
    PERFORM set_config('baywitness.erasing', at::text, true);
    CASE which
    WHEN 'links' THEN
        DELETE FROM public.feedback_visits WHERE centre_id = here AND encode(token_hash, 'hex') = ANY (old);
        DELETE FROM public.feedback_links WHERE centre_id = here AND encode(token_hash, 'hex') = ANY (old);
    WHEN 'invitations' THEN
        DELETE FROM public.invitations WHERE centre_id = here AND encode(token_hash, 'hex') = ANY (old);
        DELETE FROM public.calendar_feeds WHERE centre_id = here AND encode(token_hash, 'hex') = ANY (old);
    WHEN 'sign_ins' THEN
        DELETE FROM public.sign_ins WHERE centre_id = here AND encode(token_hash, 'hex') = ANY (old);
        DELETE FROM public.sign_in_tries WHERE centre_id = here AND counted = ANY (old);
    WHEN 'exports' THEN
        DELETE FROM public.export_ends WHERE centre_id = here AND export_id::text = ANY (old);
        DELETE FROM public.exports WHERE centre_id = here AND export_id::text = ANY (old);
    WHEN 'deeds' THEN
        DELETE FROM public.deeds WHERE centre_id = here AND n::text = ANY (old);
    END CASE;
    PERFORM set_config('baywitness.erasing', '', true);
    RETURN cardinality(old);
END
$$;
REVOKE EXECUTE ON FUNCTION forget_old(text, timestamptz, integer) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION forget_old(text, timestamptz, integer) TO baywitness_app;

-- The codes of all centres, for the program that goes through them once a day; nothing else of them is told.
CREATE POLICY every_centre ON centres FOR SELECT TO CURRENT_USER
    USING (current_setting('baywitness.every_centre', true) = 'asked');
CREATE FUNCTION every_centre() RETURNS SETOF text
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM set_config('baywitness.every_centre', 'asked', true);
    RETURN QUERY SELECT centre_id FROM public.centres ORDER BY centre_id;
    PERFORM set_config('baywitness.every_centre', '', true);
END
$$;
REVOKE EXECUTE ON FUNCTION every_centre() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION every_centre() TO baywitness_app;
