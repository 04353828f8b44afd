-- What a centre decides for itself. Each setting has a column of its own type, so that no value can stand there that the
-- pages, the release of results and the erasing of old records could not read.
ALTER TABLE centres
    ADD COLUMN sheet_name text CHECK (char_length(sheet_name) BETWEEN 1 AND 200),
    ADD COLUMN scheme text NOT NULL DEFAULT 'gb' CHECK (scheme IN ('gb', 'ie', 'eu', 'us', 'au')),
    ADD COLUMN candidate_language text NOT NULL DEFAULT 'en' CHECK (candidate_language IN ('en', 'cy', 'pl', 'es')),
    ADD COLUMN release text NOT NULL DEFAULT 'at_once' CHECK (release IN ('at_once', 'at_time', 'told')),
    ADD COLUMN release_days smallint NOT NULL DEFAULT 1 CHECK (release_days BETWEEN 0 AND 60),
    ADD COLUMN release_time time(0) NOT NULL DEFAULT '09:00',
    ADD COLUMN keep_evidence_months smallint NOT NULL DEFAULT 36 CHECK (keep_evidence_months BETWEEN 1 AND 240),
    ADD COLUMN keep_texts_months smallint NOT NULL DEFAULT 24 CHECK (keep_texts_months BETWEEN 1 AND 240),
    ADD COLUMN keep_candidates_months smallint NOT NULL DEFAULT 36 CHECK (keep_candidates_months BETWEEN 1 AND 240),
    ADD COLUMN keep_links_months smallint NOT NULL DEFAULT 6 CHECK (keep_links_months BETWEEN 1 AND 240),
    ADD COLUMN keep_exports_months smallint NOT NULL DEFAULT 3 CHECK (keep_exports_months BETWEEN 1 AND 240),
    ADD COLUMN review_days smallint NOT NULL DEFAULT 28 CHECK (review_days BETWEEN 1 AND 365),
    ADD COLUMN second_factor_asked boolean NOT NULL DEFAULT false,
    ADD CONSTRAINT texts_within_evidence CHECK (keep_texts_months <= keep_evidence_months),
    ADD CONSTRAINT links_within_evidence CHECK (keep_links_months <= keep_evidence_months);
COMMENT ON COLUMN centres.sheet_name IS 'Name on the result sheet; the centre''s own where there is none';
COMMENT ON COLUMN centres.scheme IS 'Whose rules the centre trains for; chooses the starter criteria';
COMMENT ON COLUMN centres.release IS 'When a candidate may read a signed result: at once; on release_days later at release_time, local; once they were told in person';
COMMENT ON COLUMN centres.keep_texts_months IS 'Free texts of a session, counted from its signature; the evidence stays whole without them';
COMMENT ON COLUMN centres.keep_candidates_months IS 'Details of a candidate, counted from their last session';
COMMENT ON COLUMN centres.review_days IS 'Days in which a candidate may ask for a review of the result';
COMMENT ON COLUMN centres.second_factor_asked IS 'Whether staff need a one-time code or an enrolled tablet beside the password';
GRANT UPDATE (name, time_zone, sheet_name, scheme, candidate_language, release, release_days, release_time,
    keep_evidence_months, keep_texts_months, keep_candidates_months, keep_links_months, keep_exports_months,
    review_days, second_factor_asked) ON centres TO baywitness_app;

-- Whether this installation has any centre is the one question that goes over all of them. It is answered yes or no by a
-- function of the owner, who is fenced as well; the policy lets the owner alone look, and only inside the function.
CREATE POLICY any_centre ON centres FOR SELECT TO CURRENT_USER
    USING (current_setting('baywitness.any_centre', true) = 'asked');
CREATE FUNCTION any_centre() RETURNS boolean
    LANGUAGE plpgsql SECURITY DEFINER
    SET search_path = pg_catalog, pg_temp
    AS $$
DECLARE
    found boolean;
BEGIN
    -- Not a SET of the function: only a superuser may give a function a setting that PostgreSQL does not know.
    PERFORM set_config('baywitness.any_centre', 'asked', true);
    found := EXISTS (SELECT FROM public.centres);
    PERFORM set_config('baywitness.any_centre', '', true);
    RETURN found;
END
$$;
REVOKE EXECUTE ON FUNCTION any_centre() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION any_centre() TO baywitness_app;

-- Who did what, and when: one row for each action, which nobody changes or removes.
CREATE TABLE deeds (
    centre_id text NOT NULL REFERENCES centres,
    n bigint NOT NULL CHECK (n > 0),
    at timestamptz NOT NULL,
    by integer,
    what text NOT NULL CHECK (what ~ '^[a-z_]{1,40}$'),
    about text NOT NULL CHECK (char_length(about) <= 300),
    PRIMARY KEY (centre_id, n),
    FOREIGN KEY (centre_id, by) REFERENCES staff
);
COMMENT ON COLUMN deeds.n IS 'Counts from 1 within the centre without a gap, so that a row that is missing shows';
COMMENT ON COLUMN deeds.by IS 'Who did it; nobody where it was not known who it was, or the service did it by itself';
COMMENT ON COLUMN deeds.about IS 'Whom or what it was about: u-17, an identifier, a setting with its values; never a candidate''s name, which could not be erased here';
SELECT fence('deeds');
SELECT keep_for_good('deeds', 'UPDATE OR DELETE OR TRUNCATE');
GRANT SELECT, INSERT ON deeds TO baywitness_app;

GRANT UPDATE (name, roles, password_hash, disabled_at) ON staff TO baywitness_app;

-- Links that let somebody set a password once: a new person their first, somebody known a new one.
CREATE TABLE invitations (
    centre_id text NOT NULL REFERENCES centres,
    token_hash bytea NOT NULL CHECK (octet_length(token_hash) = 32),
    whom text NOT NULL CHECK (char_length(whom) BETWEEN 1 AND 200),
    roles text[] NOT NULL CHECK (roles <@ ARRAY['assessor', 'verifier', 'manager']),
    staff_number integer,
    made_by integer NOT NULL,
    made_at timestamptz NOT NULL,
    expires_at timestamptz NOT NULL,
    used_at timestamptz,
    withdrawn_at timestamptz,
    PRIMARY KEY (centre_id, token_hash),
    FOREIGN KEY (centre_id, staff_number) REFERENCES staff,
    FOREIGN KEY (centre_id, made_by) REFERENCES staff
);
COMMENT ON COLUMN invitations.token_hash IS 'SHA-256 of the token in the address; the token itself is stored nowhere';
COMMENT ON COLUMN invitations.whom IS 'Whom the manager made it for, in their words';
COMMENT ON COLUMN invitations.staff_number IS 'Whose password it sets anew; nobody''s where it invites a new person';
CREATE INDEX invitations_by_age ON invitations (centre_id, made_at);
SELECT fence('invitations');
GRANT SELECT, INSERT, UPDATE (used_at, withdrawn_at) ON invitations TO baywitness_app;

-- The second factor: a secret shared with an app that shows one-time codes (RFC 6238). It has to be read to check a code,
-- so unlike passwords it cannot be stored as a hash.
CREATE TABLE one_time_secrets (
    centre_id text NOT NULL,
    staff_number integer NOT NULL,
    secret bytea NOT NULL CHECK (octet_length(secret) = 20),
    set_up_at timestamptz NOT NULL,
    last_step bigint NOT NULL,
    PRIMARY KEY (centre_id, staff_number),
    FOREIGN KEY (centre_id, staff_number) REFERENCES staff
);
COMMENT ON COLUMN one_time_secrets.set_up_at IS 'When a first code made from it was typed';
COMMENT ON COLUMN one_time_secrets.last_step IS 'Time step of the last code that was taken; no code of it or before is taken again';
SELECT fence('one_time_secrets');
GRANT SELECT, INSERT, DELETE, UPDATE (secret, set_up_at, last_step) ON one_time_secrets TO baywitness_app;

CREATE TABLE recovery_codes (
    centre_id text NOT NULL,
    staff_number integer NOT NULL,
    code_hash bytea NOT NULL CHECK (octet_length(code_hash) = 32),
    used_at timestamptz,
    PRIMARY KEY (centre_id, staff_number, code_hash),
    FOREIGN KEY (centre_id, staff_number) REFERENCES staff
);
COMMENT ON TABLE recovery_codes IS 'Stand in for the one-time code once each, for whoever has lost what shows it';
SELECT fence('recovery_codes');
GRANT SELECT, INSERT, DELETE, UPDATE (used_at) ON recovery_codes TO baywitness_app;

-- A browser that the centre knows: the other second factor.
CREATE TABLE tablets (
    centre_id text NOT NULL REFERENCES centres,
    tablet_id uuid NOT NULL,
    token_hash bytea NOT NULL CHECK (octet_length(token_hash) = 32),
    name text NOT NULL CHECK (char_length(name) BETWEEN 1 AND 80),
    enrolled_at timestamptz NOT NULL,
    enrolled_by integer NOT NULL,
    revoked_at timestamptz,
    PRIMARY KEY (centre_id, tablet_id),
    UNIQUE (centre_id, token_hash),
    FOREIGN KEY (centre_id, enrolled_by) REFERENCES staff
);
COMMENT ON COLUMN tablets.token_hash IS 'SHA-256 of the token in the tablet''s cookie; the token itself is stored nowhere';
SELECT fence('tablets');
GRANT SELECT, INSERT, UPDATE (revoked_at) ON tablets TO baywitness_app;

-- What a sign-in rests on beside the password, and on what it was made.
ALTER TABLE sign_ins
    ADD COLUMN factor text NOT NULL DEFAULT 'none'
        CHECK (factor IN ('none', 'link', 'tablet', 'code', 'recovery', 'code_owed', 'set_up_owed')),
    ADD COLUMN tablet_id uuid,
    ADD COLUMN device text NOT NULL DEFAULT '' CHECK (char_length(device) <= 100),
    ADD FOREIGN KEY (centre_id, tablet_id) REFERENCES tablets;
COMMENT ON COLUMN sign_ins.factor IS 'What it rests on beside the password. Where a code or its setting up is still owed it opens nothing else';
COMMENT ON COLUMN sign_ins.tablet_id IS 'The enrolled tablet that it was made on; it ends when that is revoked';
COMMENT ON COLUMN sign_ins.device IS 'Words for the device, worked out from what the browser says of itself';
GRANT UPDATE (password_at) ON sign_ins TO baywitness_app;
