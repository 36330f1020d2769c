DROP TABLE handed_precision;
