-- The trigger runs with the search path of purge_erased(), which holds no schema of ours: tables are named with theirs.
CREATE OR REPLACE FUNCTION only_erase_a_reason() RETURNS trigger
    LANGUAGE plpgsql AS $$
BEGIN
    OLD.reason := '[erased]';
    IF NEW IS DISTINCT FROM OLD OR NOT EXISTS (
            SELECT FROM public.sessions JOIN public.candidates USING (centre_id, candidate_id)
            WHERE centre_id = NEW.centre_id AND session_id = NEW.session_id AND erased_at IS NOT NULL) THEN
        RAISE EXCEPTION 'a decision never changes' USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NEW;
END
$$;
