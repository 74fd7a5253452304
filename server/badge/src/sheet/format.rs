//! The paper formats: where badges and labels stand on a page.

/// How badges are laid on paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layout {
    /// One ID-1 card, 85.60 x 53.98 mm (ISO/IEC 7810), to a page of that size.
    Card,
    /// Ten cards to an A4 page, with crop marks.
    A4Sheet,
    /// Ten cards to a Letter page, with crop marks.
    LetterSheet,
    /// One large badge to an A4 page: the way out for lists too long for a card.
    A4Single,
    /// The same on Letter.
    LetterSingle,
    /// A receipt 80 mm wide, cut where its text ends: for whoever cannot wait for a card.
    Slip,
}

/// Width of an ID-1 card in mm (ISO/IEC 7810).
pub const CARD_WIDTH_MM: f32 = 85.60;
/// Height of an ID-1 card in mm (ISO/IEC 7810).
pub const CARD_HEIGHT_MM: f32 = 53.98;

/// Equal cells on a page. Lengths in mm.
#[derive(Clone, Copy)]
pub(super) struct Grid {
    pub(super) page_width: f32,
    pub(super) page_height: f32,
    pub(super) columns: usize,
    pub(super) rows: usize,
    /// Size of what stands in a cell before it is scaled.
    pub(super) cell_width: f32,
    pub(super) cell_height: f32,
    /// Between two columns.
    pub(super) column_gap: f32,
    /// Everything in a cell, type and code alike, is drawn this much larger.
    pub(super) scale: f32,
    pub(super) crop_marks: bool,
}

const CARD: Grid = Grid {
    page_width: CARD_WIDTH_MM,
    page_height: CARD_HEIGHT_MM,
    columns: 1,
    rows: 1,
    cell_width: CARD_WIDTH_MM,
    cell_height: CARD_HEIGHT_MM,
    column_gap: 0.0,
    scale: 1.0,
    crop_marks: false,
};

const A4_SHEET: Grid =
    Grid { page_width: 210.0, page_height: 297.0, columns: 2, rows: 5, crop_marks: true, ..CARD };

const LETTER_SHEET: Grid = Grid { page_width: 215.9, page_height: 279.4, ..A4_SHEET };

const A4_SINGLE: Grid =
    Grid { columns: 1, rows: 1, cell_width: 106.0, cell_height: 80.0, scale: 1.6, ..A4_SHEET };

const LETTER_SINGLE: Grid = Grid { page_width: 215.9, page_height: 279.4, ..A4_SINGLE };

/// A roll 80 mm wide, of which receipt printers reach the middle 72 mm: common practice, no source. The height is the
/// most that a slip takes.
const SLIP: Grid =
    Grid { page_width: 80.0, page_height: 220.0, cell_width: 72.0, cell_height: 220.0, ..CARD };

/// Labels of 63.5 x 38.1 mm, a size that is sold for both papers: common practice, no source.
const LABELS_A4: Grid =
    Grid { columns: 3, rows: 7, cell_width: 63.5, cell_height: 38.1, column_gap: 2.5, ..A4_SHEET };

const LABELS_LETTER: Grid = Grid { page_width: 215.9, page_height: 279.4, ..LABELS_A4 };

/// The paper of a sheet of labels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LabelPaper {
    /// 210 x 297 mm (ISO 216).
    A4,
    /// 215.9 x 279.4 mm.
    Letter,
}

/// A whole A4 page that is laid out by itself.
pub(super) static A4_PAGE: Grid = Grid {
    page_width: 210.0,
    page_height: 297.0,
    columns: 1,
    rows: 1,
    cell_width: 210.0,
    cell_height: 297.0,
    column_gap: 0.0,
    scale: 1.0,
    crop_marks: false,
};

impl Layout {
    /// Every layout, in the order of the table.
    pub const ALL: [Self; 6] =
        [Self::Card, Self::A4Sheet, Self::LetterSheet, Self::A4Single, Self::LetterSingle, Self::Slip];

    /// Badges on a full page.
    pub fn badges_per_page(self) -> usize {
        self.grid().cells()
    }

    /// Width and height of a page in mm; of a slip, its greatest height.
    pub fn page_size_mm(self) -> (f32, f32) {
        self.grid().page_size()
    }

    /// The badge at a place of a page, counted along the rows from 0: left, top, width and height in mm.
    pub fn badge_box_mm(self, place: usize) -> [f32; 4] {
        self.grid().cell_box(place)
    }

    pub(super) fn grid(self) -> &'static Grid {
        match self {
            Self::Card => &CARD,
            Self::A4Sheet => &A4_SHEET,
            Self::LetterSheet => &LETTER_SHEET,
            Self::A4Single => &A4_SINGLE,
            Self::LetterSingle => &LETTER_SINGLE,
            Self::Slip => &SLIP,
        }
    }
}

impl LabelPaper {
    /// Both papers.
    pub const ALL: [Self; 2] = [Self::A4, Self::Letter];

    /// Labels on a full sheet.
    pub fn labels_per_page(self) -> usize {
        self.grid().cells()
    }

    /// Width and height of the sheet in mm.
    pub fn page_size_mm(self) -> (f32, f32) {
        self.grid().page_size()
    }

    /// The label at a place of the sheet, counted along the rows from 0: left, top, width and height in mm.
    pub fn label_box_mm(self, place: usize) -> [f32; 4] {
        self.grid().cell_box(place)
    }

    pub(super) fn grid(self) -> &'static Grid {
        match self {
            Self::A4 => &LABELS_A4,
            Self::Letter => &LABELS_LETTER,
        }
    }
}

impl Grid {
    pub(super) fn cells(&self) -> usize {
        self.columns * self.rows
    }

    fn page_size(&self) -> (f32, f32) {
        (self.page_width, self.page_height)
    }

    /// Left, top, width and height of a cell.
    pub(super) fn cell_box(&self, place: usize) -> [f32; 4] {
        let (left, top) = self.place(place);
        [left, top, self.width(), self.height()]
    }

    /// The same with pages, and the one row on them, of another height.
    pub(super) fn of_height(self, height: f32) -> Self {
        Self { page_height: height, cell_height: height, ..self }
    }

    /// Width of a cell as drawn.
    pub(super) fn width(&self) -> f32 {
        self.cell_width * self.scale
    }

    /// Height of a cell as drawn.
    pub(super) fn height(&self) -> f32 {
        self.cell_height * self.scale
    }

    /// Left upper corner of the grid, which stands in the middle of the page.
    pub(super) fn origin(&self) -> (f32, f32) {
        let gaps = self.column_gap * self.columns.saturating_sub(1) as f32;
        let width = self.width() * self.columns as f32 + gaps;
        let height = self.height() * self.rows as f32;
        ((self.page_width - width) / 2.0, (self.page_height - height) / 2.0)
    }

    /// Left upper corner of a place on the page, counted along the rows from 0.
    pub(super) fn place(&self, index: usize) -> (f32, f32) {
        let (left, top) = self.origin();
        let column = (index % self.columns) as f32;
        let row = (index / self.columns) as f32;
        (left + column * (self.width() + self.column_gap), top + row * self.height())
    }

    /// Where the columns begin and end, from the left; where two meet, once.
    pub(super) fn column_edges(&self) -> Vec<f32> {
        let (left, _) = self.origin();
        let mut edges = Vec::new();
        for column in 0..self.columns {
            let start = left + (self.width() + self.column_gap) * column as f32;
            if column == 0 || self.column_gap > 0.0 {
                edges.push(start);
            }
            edges.push(start + self.width());
        }
        edges
    }
}
