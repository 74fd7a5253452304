//! The fonts a sheet is set in: two in the program, and any others given as bytes.
//!
//! The fonts of the machine are never looked at, so the same badges give the same bytes everywhere.

use std::borrow::Cow;

use krilla::text::GlyphId;
use parley::fontique::{Blob, Collection, CollectionOptions, FontInfo, SourceCache};
use parley::style::{FontFamily, FontFamilyName};
use parley::{FontContext, FontData};

use super::SheetError;

const LATIN: &[u8] = include_bytes!("../../fonts/NotoSans-Regular.ttf");
const ARABIC: &[u8] = include_bytes!("../../fonts/NotoSansArabic-Regular.ttf");
/// Drawn as nothing by the Arabic font in the program, unlike the joiners next to it.
const ZERO_WIDTH_SPACE: char = '\u{200b}';

/// The fonts at hand, in the order in which they are asked for a character. Cloning is cheap.
#[derive(Clone)]
pub struct Fonts {
    context: FontContext,
    families: Vec<String>,
    faces: Vec<FontInfo>,
    arabic: Option<FontInfo>,
}

impl Fonts {
    /// The fonts in the program: Latin with all its marks, Greek, Cyrillic and Arabic.
    ///
    /// # Errors
    /// [`SheetError::Font`] if they were spoilt when the program was built.
    pub fn embedded() -> Result<Self, SheetError> {
        Self::with_extra(Vec::new())
    }

    /// The fonts in the program, then the contents of further font files (TTF, OTF or TTC) for other scripts.
    ///
    /// # Errors
    /// [`SheetError::Font`] with the place, from 0, in `extra` of the first that cannot be read.
    pub fn with_extra(extra: Vec<Vec<u8>>) -> Result<Self, SheetError> {
        let collection = Collection::new(CollectionOptions { shared: false, system_fonts: false });
        let context = FontContext { collection, source_cache: SourceCache::default() };
        let mut fonts = Self { context, families: Vec::new(), faces: Vec::new(), arabic: None };
        for embedded in [LATIN, ARABIC] {
            fonts.register(embedded.to_vec()).ok_or(SheetError::Font(0))?;
        }
        fonts.arabic = fonts.faces.last().cloned();
        for (place, bytes) in extra.into_iter().enumerate() {
            fonts.register(bytes).ok_or(SheetError::Font(place))?;
        }
        Ok(fonts)
    }

    /// Adds one file; `None` if it holds no font that the PDF library can read as well.
    fn register(&mut self, bytes: Vec<u8>) -> Option<()> {
        let blob = Blob::from(bytes);
        let mut added = self.context.collection.register_fonts(blob, None);
        if added.is_empty() {
            return None;
        }
        // The families of a collection file come in random order; their order in the file is the maker's.
        added.sort_by_key(|(_, faces)| faces.iter().map(FontInfo::index).min());
        for (family, faces) in added {
            for face in &faces {
                let (data, _) = face.load(None)?.into_raw_parts();
                krilla::text::Font::new(data.into(), face.index())?;
            }
            let name = self.context.collection.family_name(family)?.to_owned();
            if !self.families.contains(&name) {
                self.families.push(name);
            }
            self.faces.extend(faces);
        }
        Some(())
    }

    /// The first letter or digit of a text that no font here has, or a character that cannot be printed at all: what
    /// would keep a badge with this text from being printed, without setting it.
    #[must_use]
    pub fn lack(&self, text: &str) -> Option<char> {
        text.chars().find(|character| {
            unprintable(*character) || (character.is_alphanumeric() && !self.has(*character))
        })
    }

    pub(super) fn context(&self) -> FontContext {
        self.context.clone()
    }

    /// All families as one list of preference.
    pub(super) fn family(&self) -> FontFamily<'static> {
        let names = self.families.iter().map(|name| FontFamilyName::Named(Cow::Owned(name.clone())));
        FontFamily::List(Cow::Owned(names.collect()))
    }

    /// A glyph without ink and advance, if the font is the Arabic one in the program. Other fonts may draw
    /// something for the same character, so none is taken from them.
    pub(super) fn blank_glyph(&self, font: &FontData) -> Option<GlyphId> {
        let face = self.arabic.as_ref()?;
        let data = face.load(None)?;
        if data.id() != font.data.id() {
            return None;
        }
        face.charmap_index().charmap(data.as_ref())?.map(ZERO_WIDTH_SPACE).map(GlyphId::new)
    }

    /// True if some font maps the character.
    pub(super) fn has(&self, character: char) -> bool {
        self.faces.iter().any(|face| {
            let Some(data) = face.load(None) else { return false };
            let charmap = face.charmap_index().charmap(data.as_ref());
            charmap.and_then(|map| map.map(character)).is_some_and(|glyph| glyph != 0)
        })
    }
}

/// A control character has no shape; a line or paragraph separator would break the line unseen.
pub(super) fn unprintable(character: char) -> bool {
    character.is_control() || matches!(character, '\u{2028}' | '\u{2029}')
}

impl std::fmt::Debug for Fonts {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Fonts").field("families", &self.families).finish_non_exhaustive()
    }
}
