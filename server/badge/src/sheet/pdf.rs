//! Pages: laid-out badges and labels drawn into a PDF, each piece marked as what it is.

use std::collections::HashMap;

use krilla::Document;
use krilla::color::luma;
use krilla::geom::{PathBuilder, Point, Rect, Transform};
use krilla::page::PageSettings;
use krilla::paint::{Fill, LineCap, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, Identifier, SpanTag};
use krilla::text::Font;

use super::SheetError;
use super::canvas::{FittedCode, Item, Line, MM, Pattern};
use super::format::Grid;
use super::printer::Printer;
use super::structure::{self, Section, Structure};
use super::typeset::{Block, GlyphRun};

/// Thickness of rules and crop marks, in points: thin, and still drawn by a 300 dpi printer.
const HAIRLINE: f32 = 0.3;
const CROP_MARK: f32 = 4.0 * MM;
const CROP_GAP: f32 = 1.5 * MM;
/// How far a run of modules keeps away from the edges of its dots, in dots.
const AWAY_DOTS: f32 = 0.02;

/// Fonts of the document by the number of their data and their place in it.
type DocumentFonts = HashMap<(u64, u32), Font>;

/// Collects pages. The same items give the same bytes: no date, no random number goes in.
pub(super) struct Sheet {
    document: Document,
    structure: Structure,
    fonts: DocumentFonts,
    printer: Printer,
    pages: usize,
}

/// Where a cell stands on its page, in points, and how much larger it is drawn than laid out.
#[derive(Clone, Copy)]
struct Place {
    page: usize,
    x: f32,
    y: f32,
    scale: f32,
}

impl Sheet {
    pub(super) fn new(title: &str, printer: Printer) -> Result<Self, SheetError> {
        let document = structure::document(title)?;
        Ok(Self { document, structure: Structure::new(), fonts: HashMap::new(), printer, pages: 0 })
    }

    /// Draws one page, from the place `first` on, of at most as many cells as are left there; `drawn` is called after
    /// each.
    pub(super) fn page(
        &mut self,
        grid: &Grid,
        first: usize,
        cells: &[Vec<Item>],
        drawn: &mut dyn FnMut(),
    ) -> Result<(), SheetError> {
        let settings = PageSettings::from_wh(grid.page_width * MM, grid.page_height * MM)
            .ok_or_else(|| SheetError::Pdf("a page without a size".to_owned()))?;
        let mut page = self.document.start_page_with(settings);
        let mut surface = page.surface();
        surface.set_fill(Some(Fill { paint: luma::Color::black().into(), ..Fill::default() }));
        let (offset_x, offset_y) = self.printer.offset_mm;
        if grid.crop_marks {
            surface.push_transform(&Transform::from_translate(offset_x * MM, offset_y * MM));
            decoration(&mut surface, ArtifactType::Page, |surface| draw_crop_marks(surface, grid));
            surface.pop();
        }
        for (index, items) in (first..).zip(cells) {
            let (x, y) = grid.place(index);
            let (x, y) = ((x + offset_x) * MM, (y + offset_y) * MM);
            let place = Place { page: self.pages, x, y, scale: grid.scale };
            surface.push_transform(&Transform::from_row(place.scale, 0.0, 0.0, place.scale, x, y));
            let mut section = Section::new();
            for item in items {
                draw(&mut surface, &mut self.fonts, &mut section, item, place, self.printer)?;
            }
            surface.pop();
            self.structure.add(section, self.pages, (x, y));
            drawn();
        }
        surface.finish();
        page.finish();
        self.pages += 1;
        Ok(())
    }

    pub(super) fn finish(mut self) -> Result<Vec<u8>, SheetError> {
        self.structure.finish(&mut self.document);
        self.document.finish().map_err(|error| SheetError::Pdf(error.to_string()))
    }
}

/// Draws what is not read aloud.
fn decoration<'a>(surface: &mut Surface<'a>, kind: ArtifactType, draw: impl FnOnce(&mut Surface<'a>)) {
    surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(kind)));
    draw(surface);
    surface.end_tagged();
}

fn draw(
    surface: &mut Surface<'_>,
    fonts: &mut DocumentFonts,
    section: &mut Section,
    item: &Item,
    place: Place,
    printer: Printer,
) -> Result<(), SheetError> {
    match item {
        // An empty text has neither ink nor a place among what is read.
        Item::Text { block, .. } if block.text.trim().is_empty() => {}
        Item::Text { block, x, y, role } => {
            let lines = draw_text(surface, fonts, block, *x, *y)?;
            section.text(*role, block, lines);
        }
        Item::Rule { x, y, length } => {
            let line = ((*x, *y), (x + length, *y));
            decoration(surface, ArtifactType::Layout, |surface| draw_lines(surface, &[line], HAIRLINE));
        }
        Item::Lines(lines) => {
            decoration(surface, ArtifactType::Layout, |surface| draw_lines(surface, lines, HAIRLINE));
        }
        Item::Code { code, x, y, words } => {
            let (x, y) = on_whole_dots((*x, *y), place, printer);
            let drawn = draw_code(surface, code, (x, y));
            let side = code.symbol() * place.scale;
            let [left, top] = [place.x + x * place.scale, place.y + y * place.scale];
            let rect = Rect::from_xywh(left, top, side, side)
                .ok_or_else(|| SheetError::Pdf("a code without a size".to_owned()))?;
            section.figure(words, (place.page, rect), drawn);
        }
        Item::Band { pattern, x, y, width, height } => {
            // What the pattern says stands beside it in words.
            decoration(surface, ArtifactType::Layout, |surface| {
                draw_band(surface, *pattern, (*x, y + height / 2.0), *width, *height);
            });
        }
    }
    Ok(())
}

/// The corner of a code moved by less than a dot, so that the edges of its modules are edges of dots.
fn on_whole_dots((x, y): (f32, f32), place: Place, printer: Printer) -> (f32, f32) {
    let dot = printer.resolution.dot_mm() * MM;
    let snap = |corner: f32, at: f32| {
        let on_page = corner + at * place.scale;
        ((on_page / dot).round() * dot - corner) / place.scale
    };
    (snap(place.x, x), snap(place.y, y))
}

fn draw_code(surface: &mut Surface<'_>, code: &FittedCode, (x, y): (f32, f32)) -> Identifier {
    let drawn = surface.start_tagged(ContentTag::Other);
    surface.push_transform(&Transform::from_row(code.side, 0.0, 0.0, code.side, x, y));
    draw_matrix(surface, code);
    surface.pop();
    surface.end_tagged();
    drawn
}

/// Draws a text; each of its lines has an identifier of its own.
fn draw_text(
    surface: &mut Surface<'_>,
    fonts: &mut DocumentFonts,
    block: &Block,
    x: f32,
    y: f32,
) -> Result<Vec<Identifier>, SheetError> {
    surface.set_stroke(None);
    let mut lines = Vec::new();
    for line in block.runs.chunk_by(|run, next| run.baseline.to_bits() == next.baseline.to_bits()) {
        lines.push(surface.start_tagged(ContentTag::Span(SpanTag::empty())));
        for run in line {
            let font = font_of(fonts, run)?;
            let start = Point::from_xy(x + run.x, y + run.baseline);
            surface.draw_glyphs(start, &run.glyphs, font, &block.text, block.size, false);
        }
        surface.end_tagged();
    }
    Ok(lines)
}

fn font_of(fonts: &mut DocumentFonts, run: &GlyphRun) -> Result<Font, SheetError> {
    let (data, id) = run.font.data.clone().into_raw_parts();
    let index = run.font.index;
    if let Some(font) = fonts.get(&(id, index)) {
        return Ok(font.clone());
    }
    let font = Font::new(data.into(), index);
    let font = font.ok_or_else(|| SheetError::Pdf("a font cannot be read".to_owned()))?;
    fonts.insert((id, index), font.clone());
    Ok(font)
}

/// Each run of dark modules is one line as thick as a module: a third of the bytes of rectangles.
///
/// Printers blacken every dot that a shape touches. Edges that stand on the edges of dots would touch the next dot by the
/// least error of a sum, so each run keeps a little away from them.
fn draw_matrix(surface: &mut Surface<'_>, code: &FittedCode) {
    let away = AWAY_DOTS / code.module.dots.max(1) as f32;
    let lines: Vec<_> = code
        .matrix
        .runs()
        .into_iter()
        .map(|run| {
            let (left, middle) = (run.column as f32, run.row as f32 + 0.5);
            ((left + away, middle), (left + run.length as f32 - away, middle))
        })
        .collect();
    draw_lines(surface, &lines, 1.0 - 2.0 * away);
}

/// A band from the middle of its left side.
fn draw_band(surface: &mut Surface<'_>, pattern: Pattern, (x, y): (f32, f32), width: f32, height: f32) {
    let stroke = Stroke { width: height, ..Stroke::default() };
    let dashed = |array| Some(StrokeDash { array, offset: 0.0 });
    match pattern {
        Pattern::Solid => stroke_lines(surface, &[((x, y), (x + width, y))], stroke),
        Pattern::Barred => {
            let dash = dashed(vec![height / 2.0, height / 2.0]);
            stroke_lines(surface, &[((x, y), (x + width, y))], Stroke { dash, ..stroke });
        }
        Pattern::Dotted => {
            // A dash without length has round ends only: a dot.
            let dash = dashed(vec![0.0, height * 1.6]);
            let ends = ((x + height / 2.0, y), (x + width - height / 2.0, y));
            stroke_lines(surface, &[ends], Stroke { dash, line_cap: LineCap::Round, ..stroke });
        }
    }
}

fn draw_crop_marks(surface: &mut Surface<'_>, grid: &Grid) {
    let edges: Vec<f32> = grid.column_edges().into_iter().map(|edge| edge * MM).collect();
    let (Some(left), Some(right)) = (edges.first(), edges.last()) else { return };
    let (top, height) = (grid.origin().1 * MM, grid.height() * MM);
    let bottom = top + height * grid.rows as f32;
    // Letter leaves less room above and below than a whole mark takes.
    let [across, down] = [*left, top].map(|edge| CROP_MARK.min(edge - CROP_GAP));
    let mut marks = Vec::new();
    for x in edges.iter().copied() {
        marks.push(((x, top - CROP_GAP - down), (x, top - CROP_GAP)));
        marks.push(((x, bottom + CROP_GAP), (x, bottom + CROP_GAP + down)));
    }
    for row in 0..=grid.rows {
        let y = top + height * row as f32;
        marks.push(((left - CROP_GAP - across, y), (left - CROP_GAP, y)));
        marks.push(((right + CROP_GAP, y), (right + CROP_GAP + across, y)));
    }
    draw_lines(surface, &marks, HAIRLINE);
}

fn draw_lines(surface: &mut Surface<'_>, lines: &[Line], width: f32) {
    stroke_lines(surface, lines, Stroke { width, ..Stroke::default() });
}

fn stroke_lines(surface: &mut Surface<'_>, lines: &[Line], stroke: Stroke) {
    let mut path = PathBuilder::new();
    for ((x, y), (to_x, to_y)) in lines {
        path.move_to(*x, *y);
        path.line_to(*to_x, *to_y);
    }
    let Some(path) = path.finish() else { return };
    let fill = surface.get_fill().cloned();
    surface.set_fill(None);
    surface.set_stroke(Some(stroke));
    surface.draw_path(&path);
    surface.set_stroke(None);
    surface.set_fill(fill);
}
