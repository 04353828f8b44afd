-- A result that a person opened late can be reviewed from then on, so its records stay as long: the days are counted from
-- when it was opened last, and to the end of the last of them by the centre's calendar, as they are for the candidate and
-- where one person's details are erased. The first step of each release is the
-- centre's rule and is counted with it; only the few that a person took are looked through.
CREATE OR REPLACE VIEW kept_sessions WITH (security_invoker = true) AS
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
LEFT JOIN (SELECT centre_id, session_id, max(opens_at) AS opens_at FROM releases WHERE ordinal > 1
           GROUP BY centre_id, session_id) o
    ON o.centre_id = s.centre_id AND o.session_id = s.session_id
LEFT JOIN open_reviews r ON r.centre_id = s.centre_id AND r.session_id = s.session_id
LEFT JOIN (SELECT DISTINCT centre_id, session_id FROM standing_holds WHERE session_id IS NOT NULL) hs
    ON hs.centre_id = s.centre_id AND hs.session_id = s.session_id
LEFT JOIN (SELECT DISTINCT centre_id, candidate_id FROM standing_holds WHERE session_id IS NULL) hc
    ON hc.centre_id = s.centre_id AND hc.candidate_id = s.candidate_id
CROSS JOIN LATERAL (SELECT
    CASE WHEN s.outcome = 'pass' THEN z.keep_evidence_months ELSE z.keep_fails_months END AS months,
    ((greatest(l.signed_at + make_interval(days => CASE z.release WHEN 'at_time' THEN z.release_days ELSE 0 END),
               o.opens_at) AT TIME ZONE z.time_zone)::date + z.review_days + 1)::timestamp AT TIME ZONE z.time_zone AS until) t
WHERE s.opened_at IS NOT NULL AND c.erased_at IS NULL;
