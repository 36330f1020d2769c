//! What is refused, how it is said, and that nothing is half-written.
