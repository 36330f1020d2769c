DROP TABLE handed_trace;
