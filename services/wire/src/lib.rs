//! The types that travel between the service and its callers.
