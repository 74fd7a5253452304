//! The paper formats, as a table: a new one is one more row.

/// How badges are laid on paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layout {
    /// One ID-1 card, 85.60 x 53.98 mm, to a page of that size.
    Card,
    /// Ten cards to an A4 page, with crop marks.
    A4Sheet,
    /// One large badge to an A4 page.
    A4Single,
}
