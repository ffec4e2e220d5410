//! What settling did.

/// What settling did.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Settlement {
    /// Everything was thrown away first.
    pub rebuilt: bool,
    /// Connections that were settled.
    pub connections: usize,
    /// Readings that were written.
    pub readings: usize,
}
