//! The sides of what is printed.

/// The sides of a label, in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Size {
    /// How wide it is.
    pub(crate) wide: f64,
    /// How high it is.
    pub(crate) high: f64,
}
