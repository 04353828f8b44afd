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
UPDATE candidates SET sort_key = regexp_replace(lower(normalize(name, NFKD)), '[\u0300-\u036F]', '', 'g');
INSERT INTO candidate_words (centre_id, word, candidate_id)
SELECT DISTINCT centre_id, left(word, 40), candidate_id
FROM candidates, regexp_split_to_table(sort_key || ' ' || lower(reference), '[^[:alnum:]]+') AS word
WHERE word <> '';
