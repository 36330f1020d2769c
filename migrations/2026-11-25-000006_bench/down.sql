DROP TABLE review_comment;
DROP TABLE review;
DROP TABLE submission;
DROP TABLE batch_entry;
DROP TABLE batch_recipe;
DROP TABLE batch_counter;
DROP TABLE batch;
