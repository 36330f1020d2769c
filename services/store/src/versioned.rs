//! A value with the version that a change of it must name.

/// Something that can change, with the version that a change must name.
#[derive(Clone, Debug)]
pub struct Versioned<T> {
    /// The version, increased by every change.
    pub version: i64,
    /// The thing.
    pub value: T,
}
