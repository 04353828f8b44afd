-- A checklist that is being written, and its published versions. A task that is published with one carries it in its own
-- file, so that a session needs nothing but its task; the link says which version it was.
CREATE TABLE checklist_drafts (
    centre_id text NOT NULL REFERENCES centres,
    checklist_id uuid NOT NULL,
    title text NOT NULL CHECK (char_length(title) BETWEEN 1 AND 200),
    source text NOT NULL,
    changed_at timestamptz NOT NULL,
    changed_by integer NOT NULL,
    PRIMARY KEY (centre_id, checklist_id),
    FOREIGN KEY (centre_id, changed_by) REFERENCES staff
);
COMMENT ON COLUMN checklist_drafts.source IS 'The checklist file as far as it has come; it may not be valid yet';
SELECT fence('checklist_drafts');
GRANT SELECT, INSERT, DELETE, UPDATE (title, source, changed_at, changed_by) ON checklist_drafts TO baywitness_app;

CREATE TABLE checklists (
    centre_id text NOT NULL REFERENCES centres,
    checklist_id uuid NOT NULL,
    version integer NOT NULL CHECK (version > 0),
    title text NOT NULL,
    source text NOT NULL,
    digest text NOT NULL CHECK (digest = encode(sha256(convert_to(source, 'UTF8')), 'hex')),
    published_at timestamptz NOT NULL,
    published_by integer NOT NULL,
    PRIMARY KEY (centre_id, checklist_id, version),
    UNIQUE (centre_id, checklist_id, digest),
    FOREIGN KEY (centre_id, published_by) REFERENCES staff
);
COMMENT ON TABLE checklists IS 'Published versions; they never change';
COMMENT ON COLUMN checklists.source IS 'The checklist file, byte for byte';
SELECT fence('checklists');
SELECT keep_for_good('checklists', 'UPDATE OR DELETE OR TRUNCATE');
GRANT SELECT, INSERT ON checklists TO baywitness_app;

CREATE TABLE task_checklists (
    centre_id text NOT NULL,
    task_id uuid NOT NULL,
    task_version integer NOT NULL,
    checklist_id uuid NOT NULL,
    checklist_version integer NOT NULL,
    PRIMARY KEY (centre_id, task_id, task_version),
    FOREIGN KEY (centre_id, task_id, task_version) REFERENCES tasks,
    FOREIGN KEY (centre_id, checklist_id, checklist_version) REFERENCES checklists
);
COMMENT ON TABLE task_checklists IS 'The checklist that a version of a task was made with; a task that came as a file has none';
CREATE INDEX task_checklists_by_checklist ON task_checklists (centre_id, checklist_id, checklist_version);
SELECT fence('task_checklists');
SELECT keep_for_good('task_checklists', 'UPDATE OR DELETE OR TRUNCATE');
GRANT SELECT, INSERT ON task_checklists TO baywitness_app;

-- The centre's own criteria, to pick from when a checklist is made. What a checklist took from here it keeps as it was.
CREATE TABLE criteria (
    centre_id text NOT NULL REFERENCES centres,
    criterion_id text NOT NULL CHECK (criterion_id ~ '^[A-Za-z0-9._:-]{1,64}$'),
    stage text NOT NULL CHECK (char_length(stage) BETWEEN 1 AND 200),
    source text NOT NULL,
    changed_at timestamptz NOT NULL,
    changed_by integer NOT NULL,
    retired_at timestamptz,
    PRIMARY KEY (centre_id, criterion_id),
    FOREIGN KEY (centre_id, changed_by) REFERENCES staff
);
COMMENT ON COLUMN criteria.source IS 'The criterion as in a checklist file';
COMMENT ON COLUMN criteria.retired_at IS 'From then on it is not offered any more';
SELECT fence('criteria');
GRANT SELECT, INSERT, UPDATE (stage, source, changed_at, changed_by, retired_at) ON criteria TO baywitness_app;
