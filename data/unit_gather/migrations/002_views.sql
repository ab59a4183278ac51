-- What a unit asks. Every view is followed by an example.

-- Turnaround by family and week, from receipt to the end of completed cycles, in minutes.
CREATE VIEW turnaround AS
SELECT unit, week, scope_family, count(*) AS cycles,
       percentile_cont(0.5) WITHIN GROUP (ORDER BY extract(epoch FROM ended_at - received_at) / 60) AS median_min,
       percentile_cont(0.9) WITHIN GROUP (ORDER BY extract(epoch FROM ended_at - received_at) / 60) AS p90_min
  FROM cycles WHERE outcome = 'completed' GROUP BY unit, week, scope_family;
-- SELECT * FROM turnaround WHERE week = '2026-W48' ORDER BY unit, scope_family;

-- Every limit that was passed, with its cause and by how much.
CREATE VIEW lates AS
SELECT source, week, cycle, scope, at, by, step, 'lift' AS what, (data ->> 'late_s')::float AS over_s
  FROM events WHERE data ? 'late_s' AND taken_back_by IS NULL
UNION ALL
SELECT source, week, cycle, scope, at, by, step, 'step begun', (data ->> 'start_late_s')::float
  FROM events WHERE data ? 'start_late_s' AND taken_back_by IS NULL
UNION ALL
SELECT source, week, cycle, scope, at, by, step, 'cleaning begun',
       (data ->> 'delay_s')::float - (data ->> 'delay_s_max')::float
  FROM events
 WHERE (data ->> 'delay_s')::float > (data ->> 'delay_s_max')::float AND taken_back_by IS NULL;
-- SELECT what, count(*), max(over_s) FROM lates WHERE week = '2026-W48' GROUP BY what;

-- Leak tests, strips and readings that did not pass.
CREATE VIEW failed_tests AS
SELECT * FROM tests WHERE result IS DISTINCT FROM 'pass';
-- SELECT test, count(*) FROM failed_tests WHERE week >= '2026-W40' GROUP BY test;

-- Look-back: what else lay in a bath, or was done with a lot.
CREATE VIEW bath_cycles AS
SELECT DISTINCT e.source, e.bath AS bath_id, c.hld_lot, c.cycle, c.unit, c.scope_tag, c.scope_serial, c."case",
       c.received_at, c.ended_at, c.outcome
  FROM events AS e JOIN cycles AS c ON c.source = e.source AND c.cycle = e.cycle
 WHERE e.bath IS NOT NULL AND e.belongs = 'cycle';
-- SELECT scope_tag, "case", ended_at FROM bath_cycles WHERE bath_id = 'hh-1a2b3c-000120' ORDER BY ended_at;
-- SELECT scope_tag, "case", ended_at FROM cycles WHERE hld_lot = 'LOT-0001' ORDER BY ended_at;

-- Every bath over all weeks: when it stood, and how many soaks of ended cycles it had.
CREATE VIEW bath_spans AS
SELECT source, unit, bath_id, bath, kind, lot, min(poured_at) AS poured_at, max(closed_at) AS closed_at,
       coalesce(max(closed_at), min(poured_at) + coalesce(max(reuse_life_d), 1) * interval '1 day') AS until,
       sum(soaks) AS soaks
  FROM baths WHERE poured_at IS NOT NULL GROUP BY source, unit, bath_id, bath, kind, lot;
-- SELECT bath, lot, soaks FROM bath_spans WHERE closed_at IS NULL ORDER BY poured_at;

-- How far each handhelds' exports go, and how old that is.
CREATE VIEW handhelds AS
SELECT DISTINCT ON (source) source, unit, week, through, as_of, now() - as_of AS age
  FROM exports WHERE shown ORDER BY source, through DESC;
-- SELECT * FROM handhelds WHERE age > interval '7 days';

-- Scopes out of service, voided cycles, and cycles that ended without proven disinfection.
CREATE VIEW not_completed AS
SELECT unit, week, source, cycle, scope_tag, outcome, outcome_reason, owner, ended_at, ended_by, disinfected
  FROM cycles WHERE outcome <> 'completed' OR NOT disinfected;
-- SELECT * FROM not_completed WHERE week = '2026-W48';

CREATE VIEW cycle_spans AS
SELECT source, unit, cycle, scope_tag, coalesce(scope_serial, '') AS scope_serial, received_at, ended_at FROM cycles;
CREATE VIEW week_heads AS
SELECT source, device, signing_key, week, closed, through, head, first_seq, before_first, shown, fits
  FROM exports;
-- The view `conflicts` is made after this file, from data/unit_gather/conflicts.sql.
-- SELECT kind, what, first_id, second_id, since FROM conflicts;
