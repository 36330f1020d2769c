//! Requests that are sent twice.
