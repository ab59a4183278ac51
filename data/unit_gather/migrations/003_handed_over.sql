-- A cycle that was handed over goes on in the export of the handheld that took it over, which tells all of it from the
-- receipt on: the part that ended with the handover is no second place of the scope.
CREATE OR REPLACE VIEW cycle_spans AS
SELECT source, unit, cycle, scope_tag, coalesce(scope_serial, '') AS scope_serial, received_at, ended_at FROM cycles
 WHERE outcome <> 'handed over';
