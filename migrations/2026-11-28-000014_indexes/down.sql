DROP INDEX acknowledgement_holder_revision;

DROP INDEX amendment_material_material;
CREATE INDEX amendment_material_material ON amendment_material (material_id);

DROP INDEX amendment_state;
CREATE INDEX amendment_awaiting ON amendment (id) WHERE state = 'awaiting_second_person';
