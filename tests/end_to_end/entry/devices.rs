//! Known devices.
