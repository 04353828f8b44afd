-- A task that is being written. Like the draft of a checklist it is one document with a revision, since it need not be
-- valid yet, and two people must not overwrite each other unseen.
CREATE TABLE task_drafts (
    centre_id text NOT NULL REFERENCES centres,
    task_id uuid NOT NULL,
    title text NOT NULL CHECK (char_length(title) BETWEEN 1 AND 200),
    source text NOT NULL,
    changed_at timestamptz NOT NULL,
    changed_by integer NOT NULL,
    PRIMARY KEY (centre_id, task_id),
    FOREIGN KEY (centre_id, changed_by) REFERENCES staff
);
COMMENT ON COLUMN task_drafts.source IS
    'The draft as JSON: the task as far as it has come, the checklist it was given, the number of the revision, the last changes';
SELECT fence('task_drafts');
GRANT SELECT, INSERT, DELETE, UPDATE (title, source, changed_at, changed_by) ON task_drafts TO baywitness_app;
