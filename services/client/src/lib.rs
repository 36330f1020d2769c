//! A typed client for other tools, with a small command.
