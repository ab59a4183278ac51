-- A bath that is discarded in a week in which nothing lay in it stands in that week's table by its id and its end alone:
-- its rows are one bath whatever each of them knows of it.
CREATE OR REPLACE VIEW bath_spans AS
SELECT source, max(unit) FILTER (WHERE poured_at IS NOT NULL) AS unit, bath_id, max(bath) AS bath, max(kind) AS kind,
       max(lot) AS lot, min(poured_at) AS poured_at, max(closed_at) AS closed_at,
       coalesce(max(closed_at), min(poured_at) + coalesce(max(reuse_life_d), 1) * interval '1 day') AS until,
       sum(soaks) AS soaks
  FROM baths GROUP BY source, bath_id HAVING min(poured_at) IS NOT NULL;
