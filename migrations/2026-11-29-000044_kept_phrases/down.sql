DROP TABLE kept_phrase;
