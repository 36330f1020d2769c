DROP TABLE caution_reading;
