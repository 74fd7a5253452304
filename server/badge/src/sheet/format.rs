//! The paper formats, as a table: a new one is one more row.

/// How badges are laid on paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layout {
    /// One ID-1 card, 85.60 x 53.98 mm (ISO/IEC 7810), to a page of that size.
    Card,
    /// Ten cards to an A4 page, with crop marks.
    A4Sheet,
    /// One large badge to an A4 page: the way out for lists too long for a card.
    A4Single,
}

/// Width of an ID-1 card in mm (ISO/IEC 7810).
pub const CARD_WIDTH_MM: f32 = 85.60;
/// Height of an ID-1 card in mm (ISO/IEC 7810).
pub const CARD_HEIGHT_MM: f32 = 53.98;

/// One row of the table. Lengths in mm.
pub(super) struct Format {
    layout: Layout,
    pub(super) page_width: f32,
    pub(super) page_height: f32,
    pub(super) columns: usize,
    pub(super) rows: usize,
    /// Size of a badge before it is scaled.
    pub(super) badge_width: f32,
    pub(super) badge_height: f32,
    /// Everything on a badge, type and code alike, is drawn this much larger.
    pub(super) scale: f32,
    pub(super) crop_marks: bool,
}

const FORMATS: [Format; 3] = [
    Format {
        layout: Layout::Card,
        page_width: CARD_WIDTH_MM,
        page_height: CARD_HEIGHT_MM,
        columns: 1,
        rows: 1,
        badge_width: CARD_WIDTH_MM,
        badge_height: CARD_HEIGHT_MM,
        scale: 1.0,
        crop_marks: false,
    },
    Format {
        layout: Layout::A4Sheet,
        page_width: 210.0,
        page_height: 297.0,
        columns: 2,
        rows: 5,
        badge_width: CARD_WIDTH_MM,
        badge_height: CARD_HEIGHT_MM,
        scale: 1.0,
        crop_marks: true,
    },
    Format {
        layout: Layout::A4Single,
        page_width: 210.0,
        page_height: 297.0,
        columns: 1,
        rows: 1,
        badge_width: 106.0,
        badge_height: 80.0,
        scale: 1.6,
        crop_marks: true,
    },
];

/// A whole A4 page that is laid out by itself.
pub(super) static A4_PAGE: Format = Format {
    layout: Layout::A4Single,
    page_width: 210.0,
    page_height: 297.0,
    columns: 1,
    rows: 1,
    badge_width: 210.0,
    badge_height: 297.0,
    scale: 1.0,
    crop_marks: false,
};

impl Layout {
    /// Every layout, in the order of the table.
    pub const ALL: [Self; 3] = [Self::Card, Self::A4Sheet, Self::A4Single];

    /// Badges on a full page.
    pub fn badges_per_page(self) -> usize {
        let format = self.format();
        format.columns * format.rows
    }

    /// Width and height of a page in mm.
    pub fn page_size_mm(self) -> (f32, f32) {
        let format = self.format();
        (format.page_width, format.page_height)
    }

    /// The badge at a place of a page, counted along the rows from 0: left, top, width and height in mm.
    pub fn badge_box_mm(self, place: usize) -> [f32; 4] {
        let format = self.format();
        let (left, top) = format.place(place);
        [left, top, format.badge_width * format.scale, format.badge_height * format.scale]
    }

    pub(super) fn format(self) -> &'static Format {
        FORMATS.iter().find(|format| format.layout == self).unwrap_or(&FORMATS[0])
    }
}

impl Format {
    /// Left upper corner of the grid of badges, which stands in the middle of the page.
    pub(super) fn origin(&self) -> (f32, f32) {
        let width = self.badge_width * self.scale * self.columns as f32;
        let height = self.badge_height * self.scale * self.rows as f32;
        ((self.page_width - width) / 2.0, (self.page_height - height) / 2.0)
    }

    /// Left upper corner of a place on the page, counted along the rows from 0.
    pub(super) fn place(&self, index: usize) -> (f32, f32) {
        let (left, top) = self.origin();
        let column = (index % self.columns) as f32;
        let row = (index / self.columns) as f32;
        (left + column * self.badge_width * self.scale, top + row * self.badge_height * self.scale)
    }
}
