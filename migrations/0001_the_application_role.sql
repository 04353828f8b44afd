-- The service works as a role that owns nothing, so that row-level security and the missing grants bind it whatever a
-- handler does. It cannot sign in; whoever signs in for the application is a member of it and steps down to it.
--
-- Roles belong to the whole cluster while a migration locks only its own database: two databases migrated at once may
-- both find the role missing, and the slower one is told that it is there already, which is what it wanted.
DO $$
BEGIN
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'baywitness_app') THEN
        CREATE ROLE baywitness_app NOLOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS;
    END IF;
EXCEPTION WHEN duplicate_object OR unique_violation THEN
    NULL;
END
$$;

-- An owner that is not a superuser must be a member to step down to the role.
DO $$
BEGIN
    IF NOT pg_has_role(current_user, 'baywitness_app', 'MEMBER') THEN
        EXECUTE format('GRANT baywitness_app TO %I', current_user);
    END IF;
END
$$;

GRANT USAGE ON SCHEMA public TO baywitness_app;

-- The centre that the running transaction belongs to. The service sets it from the sign-in at the start of every
-- transaction; where it is not set the answer is NULL or empty, which no centre is called, so that no row is seen.
CREATE FUNCTION this_centre() RETURNS text
    LANGUAGE sql STABLE PARALLEL SAFE
    AS $$ SELECT current_setting('baywitness.centre', true) $$;

-- Fences a table: rows of this centre only, for its owner as well.
CREATE FUNCTION fence(fenced regclass) RETURNS void
    LANGUAGE plpgsql AS $$
BEGIN
    EXECUTE format('ALTER TABLE %s ENABLE ROW LEVEL SECURITY', fenced);
    EXECUTE format('ALTER TABLE %s FORCE ROW LEVEL SECURITY', fenced);
    EXECUTE format(
        'CREATE POLICY this_centre ON %s USING (centre_id = this_centre()) WITH CHECK (centre_id = this_centre())',
        fenced);
END
$$;

-- Evidence, decisions, results and published tasks are added to and never changed. The application has no grant to
-- change them; these triggers stop the owner as well, who needs none. They fire once a statement, so that a statement
-- that would touch no row is refused like any other.
CREATE FUNCTION refuse_change() RETURNS trigger
    LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% on % is refused: what is recorded there never changes', TG_OP, TG_TABLE_NAME
        USING ERRCODE = 'restrict_violation';
END
$$;

-- Sets the triggers that refuse these statements, such as 'UPDATE OR DELETE'.
CREATE FUNCTION keep_for_good(kept regclass, statements text) RETURNS void
    LANGUAGE plpgsql AS $$
BEGIN
    EXECUTE format(
        'CREATE TRIGGER refuse_change BEFORE %s ON %s FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()',
        statements, kept);
    EXECUTE format('ALTER TABLE %s ENABLE ALWAYS TRIGGER refuse_change', kept);
END
$$;

REVOKE EXECUTE ON FUNCTION fence(regclass), keep_for_good(regclass, text) FROM PUBLIC;
