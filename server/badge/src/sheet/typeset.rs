//! Text to glyphs: shaping, both directions, line breaking, and shrinking until it fits.

use std::collections::{BTreeMap, HashMap};
use std::ops::Range;
use std::sync::Arc;

use krilla::text::{GlyphId, KrillaGlyph};
use parley::layout::{Alignment, AlignmentOptions, Layout, Run};
use parley::style::{FontFamily, LineHeight, OverflowWrap, StyleProperty};
use parley::{FontContext, FontData, LayoutContext};

use super::fonts::{Fonts, unprintable};

/// Line height as a multiple of the type size: room for marks above and below, Vietnamese capitals included.
const LINE_HEIGHT: f32 = 1.3;
/// Rounding in sums of advances must not count as too wide. In points.
const TOLERANCE: f32 = 0.01;

/// Text set at one size, ready to draw. Lengths in points, from the left upper corner.
pub(super) struct Block {
    pub(super) text: String,
    pub(super) runs: Vec<GlyphRun>,
    pub(super) size: f32,
    pub(super) height: f32,
    pub(super) width: f32,
    /// Whether some of it is read from right to left.
    pub(super) right_to_left: bool,
}

/// Glyphs of one font on one line.
pub(super) struct GlyphRun {
    pub(super) font: FontData,
    pub(super) x: f32,
    pub(super) baseline: f32,
    pub(super) glyphs: Vec<KrillaGlyph>,
}

/// A character that no font has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Missing(pub(super) char);

/// Where a line may break.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
enum Breaks {
    BetweenWords,
    Anywhere,
}

/// Sets text in the given fonts and remembers what it set: use one for some dozens of badges, then drop it.
pub(super) struct Typesetter<'f> {
    fonts: &'f Fonts,
    family: FontFamily<'static>,
    font_context: FontContext,
    layout_context: LayoutContext<()>,
    set: HashMap<Key, Arc<Block>>,
}

/// Text, size, width and breaks: all that decides how a block looks. Lengths by their bits.
type Key = (String, u32, u32, Breaks);

impl<'f> Typesetter<'f> {
    pub(super) fn new(fonts: &'f Fonts) -> Self {
        Self {
            fonts,
            family: fonts.family(),
            font_context: fonts.context(),
            layout_context: LayoutContext::new(),
            set: HashMap::new(),
        }
    }

    /// Sets text in the first of the sizes that fits the box. Words stay whole if any size allows it; else the
    /// first size counts that fits with words broken. `Ok(None)` if none does.
    pub(super) fn fit(
        &mut self,
        text: &str,
        sizes: &[f32],
        width: f32,
        height: f32,
    ) -> Result<Option<Arc<Block>>, Missing> {
        for breaks in [Breaks::BetweenWords, Breaks::Anywhere] {
            for size in sizes {
                let block = self.remembered(text, *size, width, breaks)?;
                if block.width <= width + TOLERANCE && block.height <= height + TOLERANCE {
                    return Ok(Some(block));
                }
            }
        }
        Ok(None)
    }

    /// Most texts of a badge stand on every badge of a day: set once, they are kept.
    fn remembered(
        &mut self,
        text: &str,
        size: f32,
        width: f32,
        breaks: Breaks,
    ) -> Result<Arc<Block>, Missing> {
        let key = (text.to_owned(), size.to_bits(), width.to_bits(), breaks);
        if let Some(block) = self.set.get(&key) {
            return Ok(Arc::clone(block));
        }
        let block = Arc::new(self.set(text, size, width, breaks)?);
        self.set.insert(key, Arc::clone(&block));
        Ok(block)
    }

    fn set(&mut self, text: &str, size: f32, width: f32, breaks: Breaks) -> Result<Block, Missing> {
        if let Some(character) = text.chars().find(|character| unprintable(*character)) {
            return Err(Missing(character));
        }
        let overflow = match breaks {
            Breaks::BetweenWords => OverflowWrap::Normal,
            Breaks::Anywhere => OverflowWrap::Anywhere,
        };
        let mut builder = self.layout_context.ranged_builder(&mut self.font_context, text, 1.0, false);
        builder.push_default(StyleProperty::FontFamily(self.family.clone()));
        builder.push_default(StyleProperty::FontSize(size));
        builder.push_default(StyleProperty::LineHeight(LineHeight::FontSizeRelative(LINE_HEIGHT)));
        builder.push_default(StyleProperty::OverflowWrap(overflow));
        let mut layout = builder.build(text);
        layout.break_all_lines(Some(width));
        layout.align(Alignment::Start, AlignmentOptions::default());
        let runs = self.glyph_runs(&layout, text)?;
        let right_to_left = layout.lines().any(|line| line.runs().any(|run| run.is_rtl()));
        let (height, width) = (layout.height(), layout.width());
        Ok(Block { text: text.to_owned(), runs, size, height, width, right_to_left })
    }

    fn glyph_runs(&self, layout: &Layout<()>, text: &str) -> Result<Vec<GlyphRun>, Missing> {
        let mut glyph_runs = Vec::new();
        for line in layout.lines() {
            let metrics = line.metrics();
            let mut x = metrics.offset;
            for run in line.runs() {
                let (glyphs, advance) = self.glyphs(&run, text)?;
                glyph_runs.push(GlyphRun { font: run.font().clone(), x, baseline: metrics.baseline, glyphs });
                x += advance;
            }
        }
        Ok(glyph_runs)
    }

    /// The glyphs of a run from left to right, in units of the type size, and the advance in points.
    fn glyphs(&self, run: &Run<'_, ()>, text: &str) -> Result<(Vec<KrillaGlyph>, f32), Missing> {
        let size = run.font_size();
        let ligatures = ligatures(run);
        let mut glyphs = Vec::new();
        let mut advance = 0.0;
        for cluster in run.visual_clusters() {
            let Some(letters) = ligatures.get(&cluster.text_range().start) else { continue };
            let range = cluster.text_range().start..letters.last().map_or(0, |letter| letter.end);
            let first = glyphs.len();
            for glyph in cluster.glyphs() {
                if glyph.id == 0 {
                    return Err(self.missing(text, range));
                }
                let id = GlyphId::new(glyph.id);
                // The typesetter counts downwards, the PDF library upwards.
                let [dx, dy, step] = [glyph.x, -glyph.y, glyph.advance].map(|length| length / size);
                glyphs.push(KrillaGlyph::new(id, step, dx, dy, 0.0, range.clone(), None));
                advance += glyph.advance;
            }
            if run.is_rtl() {
                marks_last(&mut glyphs[first..]);
                let blanks = spread(&mut glyphs[first..], letters, self.fonts.blank_glyph(run.font()));
                glyphs.extend(blanks);
            }
        }
        Ok((glyphs, advance))
    }

    fn missing(&self, text: &str, range: Range<usize>) -> Missing {
        let cluster = text.get(range).unwrap_or(text);
        let unmapped = cluster.chars().find(|character| !self.fonts.has(*character));
        Missing(unmapped.or_else(|| cluster.chars().next()).unwrap_or(char::REPLACEMENT_CHARACTER))
    }
}

/// The letters of each ligature, in reading order, by where it starts; a lone letter counts as one. A letter
/// includes its marks. The glyphs of a ligature belong to its first letter alone: without the others' text a
/// reader of the PDF would find letters missing. On a right-to-left line the first letter comes last, so the
/// letters are gathered before the glyphs.
fn ligatures(run: &Run<'_, ()>) -> BTreeMap<usize, Vec<Range<usize>>> {
    let mut ligatures: BTreeMap<usize, Vec<Range<usize>>> = BTreeMap::new();
    let mut start = 0;
    for cluster in run.clusters() {
        let range = cluster.text_range();
        if !cluster.is_ligature_continuation() {
            start = range.start;
        }
        ligatures.entry(start).or_default().push(range);
    }
    ligatures
}

/// Moves the marks of a right-to-left cluster behind the letters they stand on, without moving them on paper.
/// Marks come first there; a reader of the PDF takes the place of a cluster from its first glyph.
fn marks_last(glyphs: &mut [KrillaGlyph]) {
    let mut pen = 0.0;
    let total: f32 = glyphs.iter().map(|glyph| glyph.x_advance).sum();
    for glyph in glyphs.iter_mut() {
        let before = pen;
        pen += glyph.x_advance;
        if glyph.x_advance == 0.0 {
            glyph.x_offset += before - total;
        }
    }
    glyphs.sort_by_key(|glyph| glyph.x_advance == 0.0);
}

/// Gives the glyphs of a right-to-left ligature one letter each, the last letter first, and returns blank
/// glyphs for the letters left over.
///
/// A page holds glyphs from left to right, and readers of a PDF turn a right-to-left line round letter by
/// letter: two letters on one glyph, such as lam and alef, would come out exchanged. A letter with its marks
/// stays together, and so does everything where no blank glyph is at hand: it prints the same.
fn spread(glyphs: &mut [KrillaGlyph], letters: &[Range<usize>], blank: Option<GlyphId>) -> Vec<KrillaGlyph> {
    let (Some(blank), [first, _, ..]) = (blank, letters) else { return Vec::new() };
    let mut from_the_left = letters.iter().rev();
    for glyph in glyphs {
        glyph.text_range = from_the_left.next().unwrap_or(first).clone();
    }
    from_the_left.map(|letter| KrillaGlyph::new(blank, 0.0, 0.0, 0.0, 0.0, letter.clone(), None)).collect()
}
