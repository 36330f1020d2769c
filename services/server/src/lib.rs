//! The one binary: configuration, start-up and commands.
