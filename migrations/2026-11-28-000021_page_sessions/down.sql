DROP TABLE page_session;
