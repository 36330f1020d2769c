//! The house itself: arrows between crates, the schema, the migrations, the document.
