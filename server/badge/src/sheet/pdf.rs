//! Pages: laid-out badges drawn into a PDF.

use std::collections::HashMap;

use krilla::Document;
use krilla::color::luma;
use krilla::geom::{PathBuilder, Point, Transform};
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke};
use krilla::surface::Surface;
use krilla::text::Font;

use super::SheetError;
use super::card::{Item, MM};
use super::format::Format;
use super::typeset::Block;
use crate::qr::QrMatrix;

/// Thickness of rules and crop marks, in points: thin, and still drawn by a 300 dpi printer.
const HAIRLINE: f32 = 0.3;
const CROP_MARK: f32 = 4.0 * MM;
const CROP_GAP: f32 = 1.5 * MM;

/// Collects pages. The same badges give the same bytes: no date, no random number goes in.
pub(super) struct Sheet {
    document: Document,
    fonts: HashMap<(u64, u32), Font>,
    format: &'static Format,
}

impl Sheet {
    pub(super) fn new(format: &'static Format) -> Self {
        Self::titled(format, "Badges")
    }

    pub(super) fn titled(format: &'static Format, title: &str) -> Self {
        let mut document = Document::new();
        document.set_metadata(Metadata::new().title(title.to_owned()).creator("Sellion".to_owned()));
        Self { document, fonts: HashMap::new(), format }
    }

    /// Draws one page of at most as many badges as it has places; `drawn` is called after each.
    pub(super) fn page(&mut self, badges: &[Vec<Item>], drawn: &mut dyn FnMut()) -> Result<(), SheetError> {
        let format = self.format;
        let settings = PageSettings::from_wh(format.page_width * MM, format.page_height * MM)
            .ok_or_else(|| SheetError::Pdf("a page without a size".to_owned()))?;
        let mut page = self.document.start_page_with(settings);
        let mut surface = page.surface();
        surface.set_fill(Some(Fill { paint: luma::Color::black().into(), ..Fill::default() }));
        if format.crop_marks {
            draw_crop_marks(&mut surface, format);
        }
        for (index, items) in badges.iter().enumerate() {
            let (x, y) = format.place(index);
            let scale = format.scale;
            surface.push_transform(&Transform::from_row(scale, 0.0, 0.0, scale, x * MM, y * MM));
            for item in items {
                draw(&mut surface, &mut self.fonts, item)?;
            }
            surface.pop();
            drawn();
        }
        surface.finish();
        page.finish();
        Ok(())
    }

    pub(super) fn finish(self) -> Result<Vec<u8>, SheetError> {
        self.document.finish().map_err(|error| SheetError::Pdf(error.to_string()))
    }
}

fn draw(
    surface: &mut Surface<'_>,
    fonts: &mut HashMap<(u64, u32), Font>,
    item: &Item,
) -> Result<(), SheetError> {
    match item {
        Item::Text { block, x, y } => draw_text(surface, fonts, block, *x, *y)?,
        Item::Rule { x, y, length } => draw_lines(surface, &[((*x, *y), (x + length, *y))], HAIRLINE),
        Item::Code { matrix, x, y, module } => {
            surface.push_transform(&Transform::from_row(*module, 0.0, 0.0, *module, *x, *y));
            draw_matrix(surface, matrix);
            surface.pop();
        }
    }
    Ok(())
}

fn draw_text(
    surface: &mut Surface<'_>,
    fonts: &mut HashMap<(u64, u32), Font>,
    block: &Block,
    x: f32,
    y: f32,
) -> Result<(), SheetError> {
    surface.set_stroke(None);
    for run in &block.runs {
        let (data, id) = run.font.data.clone().into_raw_parts();
        let index = run.font.index;
        if let std::collections::hash_map::Entry::Vacant(entry) = fonts.entry((id, index)) {
            let font = Font::new(data.into(), index);
            entry.insert(font.ok_or_else(|| SheetError::Pdf("a font cannot be read".to_owned()))?);
        }
        let font = fonts[&(id, index)].clone();
        let start = Point::from_xy(x + run.x, y + run.baseline);
        surface.draw_glyphs(start, &run.glyphs, font, &block.text, block.size, false);
    }
    Ok(())
}

/// Each run of dark modules is one line as thick as a module: a third of the bytes of rectangles.
fn draw_matrix(surface: &mut Surface<'_>, matrix: &QrMatrix) {
    let lines: Vec<_> = matrix
        .runs()
        .into_iter()
        .map(|run| {
            let (left, middle) = (run.column as f32, run.row as f32 + 0.5);
            ((left, middle), (left + run.length as f32, middle))
        })
        .collect();
    draw_lines(surface, &lines, 1.0);
}

fn draw_crop_marks(surface: &mut Surface<'_>, format: &Format) {
    let (left, top) = format.origin();
    let (left, top) = (left * MM, top * MM);
    let (width, height) = (format.badge_width * format.scale * MM, format.badge_height * format.scale * MM);
    let right = left + width * format.columns as f32;
    let bottom = top + height * format.rows as f32;
    let mut marks = Vec::new();
    for column in 0..=format.columns {
        let x = left + width * column as f32;
        marks.push(((x, top - CROP_GAP - CROP_MARK), (x, top - CROP_GAP)));
        marks.push(((x, bottom + CROP_GAP), (x, bottom + CROP_GAP + CROP_MARK)));
    }
    for row in 0..=format.rows {
        let y = top + height * row as f32;
        marks.push(((left - CROP_GAP - CROP_MARK, y), (left - CROP_GAP, y)));
        marks.push(((right + CROP_GAP, y), (right + CROP_GAP + CROP_MARK, y)));
    }
    draw_lines(surface, &marks, HAIRLINE);
}

type Line = ((f32, f32), (f32, f32));

fn draw_lines(surface: &mut Surface<'_>, lines: &[Line], width: f32) {
    let mut path = PathBuilder::new();
    for ((x, y), (to_x, to_y)) in lines {
        path.move_to(*x, *y);
        path.line_to(*to_x, *to_y);
    }
    let Some(path) = path.finish() else { return };
    let fill = surface.get_fill().cloned();
    surface.set_fill(None);
    surface.set_stroke(Some(Stroke { width, ..Stroke::default() }));
    surface.draw_path(&path);
    surface.set_stroke(None);
    surface.set_fill(fill);
}
