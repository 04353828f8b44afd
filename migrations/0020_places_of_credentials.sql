-- Each verdict that is a pass has a place in the lists in which the centre says which credentials it calls back. The
-- place is given with the verdict, whether or not a credential is ever taken out, so that every export writes the same.
-- Which are called back is not stored: those whose verdict a later one took the place of.
CREATE TABLE credential_places (
    centre_id text NOT NULL,
    session_id uuid NOT NULL,
    ordinal integer NOT NULL CHECK (ordinal >= 0),
    place integer NOT NULL CHECK (place >= 0),
    PRIMARY KEY (centre_id, session_id, ordinal),
    UNIQUE (centre_id, place),
    FOREIGN KEY (centre_id, session_id) REFERENCES results
);
COMMENT ON COLUMN credential_places.ordinal IS 'How many verdicts on this session came before';
COMMENT ON COLUMN credential_places.place IS 'Counts from 0 within the centre';
SELECT fence('credential_places');
SELECT keep_for_good('credential_places', 'UPDATE OR DELETE OR TRUNCATE');
GRANT SELECT ON credential_places TO baywitness_app;

CREATE FUNCTION give_place() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, public AS $$
BEGIN
    -- One signature after another within a centre, so that no two find the same place free.
    PERFORM pg_advisory_xact_lock(hashtextextended('credential place ' || NEW.centre_id, 0));
    INSERT INTO public.credential_places (centre_id, session_id, ordinal, place)
    SELECT NEW.centre_id, NEW.session_id, coalesce((to_jsonb(NEW) ->> 'ordinal')::integer, 0),
           coalesce(max(place) + 1, 0) FROM public.credential_places WHERE centre_id = NEW.centre_id;
    RETURN NULL;
END
$$;
REVOKE EXECUTE ON FUNCTION give_place() FROM PUBLIC;
CREATE TRIGGER give_place AFTER INSERT ON results
    FOR EACH ROW WHEN (NEW.outcome = 'pass') EXECUTE FUNCTION give_place();
CREATE TRIGGER give_place AFTER INSERT ON amended_results
    FOR EACH ROW WHEN (NEW.outcome = 'pass') EXECUTE FUNCTION give_place();

-- Passes of before get theirs in the order of signing.
ALTER TABLE results NO FORCE ROW LEVEL SECURITY;
ALTER TABLE amended_results NO FORCE ROW LEVEL SECURITY;
ALTER TABLE credential_places NO FORCE ROW LEVEL SECURITY;
INSERT INTO credential_places (centre_id, session_id, ordinal, place)
SELECT centre_id, session_id, ordinal,
       row_number() OVER (PARTITION BY centre_id ORDER BY signed_at, session_id, ordinal) - 1
FROM (SELECT centre_id, session_id, 0 AS ordinal, signed_at FROM results WHERE outcome = 'pass'
      UNION ALL SELECT centre_id, session_id, ordinal, signed_at FROM amended_results WHERE outcome = 'pass') passes;
ALTER TABLE credential_places FORCE ROW LEVEL SECURITY;
ALTER TABLE amended_results FORCE ROW LEVEL SECURITY;
ALTER TABLE results FORCE ROW LEVEL SECURITY;
