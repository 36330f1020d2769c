-- Finding formulas by a part of their title, by their kind in the order of the list, and by a rare regime.
SET LOCAL lock_timeout = '3s';

CREATE INDEX formula_title_trigrams ON formula USING gin (lower(title) gin_trgm_ops);
CREATE INDEX formula_library_kind ON formula (library_id, preparation, title COLLATE "C", id);
CREATE INDEX revision_approved_regime ON revision (regime, id) WHERE state = 'approved';
