//! What is known of the printer: its dots and how far it is out, so that codes stand on whole dots in the right place.

/// The least side of a module that is printed, in mm: four dots of a 300 dpi printer, as the guidance of
/// the inventor of the QR code asks for, 0.339 printed there as 0.33.
pub const MODULE_MM_MIN: f32 = 0.33;

/// Dots on a side of a module that the same guidance asks for. Where they don't fit, fewer are printed and that is said.
pub const MODULE_DOTS_WANTED: u32 = 4;

/// How far a printer may be set out of its place, in mm: more is paper that lies wrong.
pub const OFFSET_MM_MAX: f32 = 10.0;

const MM_PER_INCH: f32 = 25.4;
/// A sum of lengths that ends a thousandth of a dot short of a whole dot is that dot.
const TOLERANCE: f32 = 1e-3;

/// Dots per inch of the printers that print badges: thermal and card printers at 203 and 300, office printers at 600.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Resolution {
    /// 203 dots per inch.
    Dpi203,
    /// 300 dots per inch.
    #[default]
    Dpi300,
    /// 600 dots per inch.
    Dpi600,
}

impl Resolution {
    /// Every resolution, the coarsest first.
    pub const ALL: [Self; 3] = [Self::Dpi203, Self::Dpi300, Self::Dpi600];

    /// As a number.
    pub const fn dots_per_inch(self) -> u16 {
        match self {
            Self::Dpi203 => 203,
            Self::Dpi300 => 300,
            Self::Dpi600 => 600,
        }
    }

    /// The resolution with this number.
    pub fn of(dots_per_inch: u16) -> Option<Self> {
        Self::ALL.into_iter().find(|resolution| resolution.dots_per_inch() == dots_per_inch)
    }

    /// Side of a dot in mm.
    pub fn dot_mm(self) -> f32 {
        MM_PER_INCH / f32::from(self.dots_per_inch())
    }
}

/// The printer that a document is for.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Printer {
    /// Its dots.
    pub resolution: Resolution,
    /// How far everything is moved to the right and down, in mm, so that it comes out where it should.
    pub offset_mm: (f32, f32),
}

/// The side of a module as printed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Module {
    /// In dots of the printer.
    pub dots: u32,
    /// In mm.
    pub mm: f32,
}

impl Module {
    /// The largest module of whole dots with which so many of them fit the side. Where that is fewer dots than wanted,
    /// just as many as wanted if `side_mm_max` has the room for them.
    pub(super) fn fit(modules: usize, side_mm: f32, side_mm_max: f32, resolution: Resolution) -> Self {
        let dot_mm = resolution.dot_mm();
        let whole = |side: f32| (side / (modules as f32 * dot_mm) + TOLERANCE).floor() as u32;
        let dots = whole(side_mm).max(whole(side_mm_max).min(MODULE_DOTS_WANTED));
        Self { dots, mm: dots as f32 * dot_mm }
    }

    /// Whether it has as many dots as the guidance asks for.
    pub fn is_as_wanted(self) -> bool {
        self.dots >= MODULE_DOTS_WANTED
    }
}
