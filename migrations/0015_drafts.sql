-- A draft carries more than its file: how often it was changed and by whom, so that two who write at once are told.
COMMENT ON COLUMN checklist_drafts.source IS
    'The draft as JSON: title, pass mark and stages, which may not be valid yet, the number of the revision, the last changes, and the file it began with as long as it is unchanged';
