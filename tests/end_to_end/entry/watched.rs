//! Security events.
