-- What two handhelds, or two exports of one, say of the same thing. Listed, never resolved.
-- Read by PostgreSQL and SQLite alike, over: cycle_spans, bath_spans, week_heads.

-- One scope in two places: by its tag within a unit (unless both know a serial number and they differ), or anywhere by
-- its serial number.
SELECT 'one scope in two places' AS kind, a.scope_tag AS what, a.source AS first_source, a.cycle AS first_id,
       b.source AS second_source, b.cycle AS second_id, b.received_at AS since,
       CASE WHEN a.ended_at < b.ended_at THEN a.ended_at ELSE b.ended_at END AS until
  FROM cycle_spans AS a
  JOIN cycle_spans AS b
    ON b.unit = a.unit AND b.scope_tag = a.scope_tag AND b.source <> a.source
   AND b.received_at >= a.received_at AND b.received_at < a.ended_at
   AND (b.received_at > a.received_at OR b.source > a.source)
 WHERE a.scope_serial = '' OR b.scope_serial = '' OR a.scope_serial = b.scope_serial
UNION
SELECT 'one scope in two places', a.scope_tag, a.source, a.cycle, b.source, b.cycle, b.received_at,
       CASE WHEN a.ended_at < b.ended_at THEN a.ended_at ELSE b.ended_at END
  FROM cycle_spans AS a
  JOIN cycle_spans AS b
    ON b.scope_serial = a.scope_serial AND b.source <> a.source
   AND b.received_at >= a.received_at AND b.received_at < a.ended_at
   AND (b.received_at > a.received_at OR b.source > a.source)
 WHERE a.scope_serial <> ''
UNION ALL
-- One bath counted twice: the same label and lot in one unit, poured on one handheld while it stood on another. A bath
-- that nobody closed stands for its reuse life, and one without such a life for a day.
SELECT 'one bath counted twice', a.bath, a.source, a.bath_id, b.source, b.bath_id, b.poured_at,
       CASE WHEN a.until < b.until THEN a.until ELSE b.until END
  FROM bath_spans AS a
  JOIN bath_spans AS b
    ON b.unit = a.unit AND b.bath = a.bath AND b.lot = a.lot AND b.kind = a.kind AND b.source <> a.source
   AND b.poured_at >= a.poured_at AND b.poured_at < a.until
   AND (b.poured_at > a.poured_at OR b.source > a.source)
UNION ALL
-- One week told twice: an export that is not of the record that the shown one tells.
SELECT 'one week told twice', a.week, a.source, a.head, b.source, b.head, NULL, NULL
  FROM week_heads AS a
  JOIN week_heads AS b ON b.source = a.source AND b.week = a.week
 WHERE a.shown AND NOT b.fits
UNION ALL
-- A record that forked: a week begins right after the last line of another, but does not follow it.
SELECT 'a record that forked', b.week, a.source, a.head, b.source, b.before_first, NULL, NULL
  FROM week_heads AS a
  JOIN week_heads AS b
    ON b.source = a.source AND b.first_seq = a.through + 1 AND b.before_first <> a.head
 WHERE a.shown AND b.shown
UNION ALL
-- Two keys under one name: one handheld was set up anew, or somebody else signs in its name.
SELECT 'two keys under one name', a.device, a.source, a.signing_key, b.source, b.signing_key, NULL, NULL
  FROM week_heads AS a
  JOIN week_heads AS b
    ON b.device = a.device AND a.signing_key < b.signing_key
 GROUP BY a.device, a.source, a.signing_key, b.source, b.signing_key
