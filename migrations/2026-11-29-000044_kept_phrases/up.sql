-- Phrases that an instructor keeps for comments. Only their author reads them; they go when the author removes them.
CREATE TABLE kept_phrase (
    id uuid PRIMARY KEY,
    person_id uuid NOT NULL REFERENCES person (id),
    text text NOT NULL CHECK (text <> '' AND char_length(text) <= 400),
    added_at timestamptz NOT NULL,
    CONSTRAINT kept_phrase_once UNIQUE (person_id, text)
);
CREATE INDEX kept_phrase_person ON kept_phrase (person_id);

GRANT SELECT, INSERT, DELETE ON kept_phrase TO stillroom_service;
