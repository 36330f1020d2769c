-- Indexes that fit the orders in which lists are read. Each list is by id, within a state, a material or a holder.
SET LOCAL lock_timeout = '5s';

DROP INDEX amendment_awaiting;
CREATE INDEX amendment_state ON amendment (state, id);

DROP INDEX amendment_material_material;
CREATE INDEX amendment_material_material ON amendment_material (material_id, amendment_id);

-- Whether a holder acknowledged a revision again, later.
CREATE INDEX acknowledgement_holder_revision ON acknowledgement (holder_id, revision_id, id);
