//! A list to walk with: what has to be taken away, place by place, with room to write that it was. No person is on it.

use std::sync::Arc;

use super::SheetError;
use super::canvas::{Item, MM};
use super::fonts::Fonts;
use super::format::A4_PAGE;
use super::pdf::Sheet;
use super::printer::Printer;
use super::structure::Role;
use super::typeset::{Block, Missing, Typesetter};

const MARGIN: f32 = 15.0 * MM;
const WIDTH: f32 = 210.0 * MM - 2.0 * MARGIN;
const BOTTOM: f32 = 297.0 * MM - MARGIN;
/// Room at the right of each line for a time and initials.
const SIGN_WIDTH: f32 = 55.0 * MM;
const GAP: f32 = 3.0 * MM;
const LINE_GAP: f32 = 4.0 * MM;

/// Type sizes in points, the preferred one first.
const TITLE_SIZES: [f32; 3] = [18.0, 15.0, 12.0];
const TEXT_SIZES: [f32; 3] = [10.0, 9.0, 8.0];
const PLACE_SIZES: [f32; 3] = [13.0, 11.0, 9.0];
const SMALL_SIZES: [f32; 1] = [7.5];
/// No text of a list is longer than this by itself.
const TEXT_HEIGHT_MAX: f32 = 60.0 * MM;

const TITLE: &str = "Take these away now";
const SIGN: &str = "Taken away at, by:";
const NOTHING: &str = "Nothing of it is recorded anywhere. Ask every station all the same.";
const FOOT: &str = "Stations without contact to the server do not know of the stop yet: tell them in person. Set \
                    everything aside marked as stopped; pour nothing away before somebody competent says so.";

/// A list to be printed. All texts are ready to print.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RunnerList {
    /// The site's name.
    pub site_name: String,
    /// What is stopped, in words.
    pub subject: String,
    /// When the list was made.
    pub printed_at: String,
    /// The places in the order of walking.
    pub places: Vec<RunnerPlace>,
}

/// A place, and what has to be taken away there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RunnerPlace {
    /// Where.
    pub place: String,
    /// What, a line each.
    pub things: Vec<String>,
}

/// Why a list could not be printed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RunnerError {
    /// None of the fonts has this character.
    #[error("no font here has the character {0:?}")]
    NoGlyph(char),
    /// A text does not fit on a page.
    #[error("a text is too long to print")]
    TooLong,
    /// The page could not be drawn.
    #[error(transparent)]
    Sheet(#[from] SheetError),
}

/// Prints the list on A4 pages.
///
/// # Errors
/// [`RunnerError`]; no part of a document is returned then.
pub fn render_runner_list(list: &RunnerList, fonts: &Fonts) -> Result<Vec<u8>, RunnerError> {
    let mut paper = Paper { typesetter: Typesetter::new(fonts), pages: vec![Vec::new()], y: MARGIN };
    paper.text(&list.site_name, &TEXT_SIZES, WIDTH)?;
    paper.text_as(Role::Title, TITLE, &TITLE_SIZES, WIDTH)?;
    paper.text(&list.subject, &PLACE_SIZES, WIDTH)?;
    paper.text(&list.printed_at, &SMALL_SIZES, WIDTH)?;
    if list.places.is_empty() {
        paper.text(NOTHING, &TEXT_SIZES, WIDTH)?;
    }
    for place in &list.places {
        paper.y += LINE_GAP;
        paper.text(&place.place, &PLACE_SIZES, WIDTH)?;
        for thing in &place.things {
            paper.line(thing)?;
        }
    }
    paper.y += LINE_GAP;
    paper.text(FOOT, &SMALL_SIZES, WIDTH)?;
    let mut sheet = Sheet::new("Runner list", Printer::default())?;
    for page in &paper.pages {
        sheet.page(&A4_PAGE, 0, std::slice::from_ref(page), &mut || {})?;
    }
    Ok(sheet.finish()?)
}

struct Paper<'f> {
    typesetter: Typesetter<'f>,
    pages: Vec<Vec<Item>>,
    y: f32,
}

impl Paper<'_> {
    fn set(&mut self, text: &str, sizes: &[f32], width: f32) -> Result<Arc<Block>, RunnerError> {
        let fitted = self.typesetter.fit(text, sizes, width, TEXT_HEIGHT_MAX);
        fitted.map_err(|Missing(character)| RunnerError::NoGlyph(character))?.ok_or(RunnerError::TooLong)
    }

    /// A paragraph under what stands there already, on a new page where it no longer fits.
    fn text(&mut self, text: &str, sizes: &[f32], width: f32) -> Result<(), RunnerError> {
        self.text_as(Role::Text, text, sizes, width)
    }

    fn text_as(&mut self, role: Role, text: &str, sizes: &[f32], width: f32) -> Result<(), RunnerError> {
        let block = self.set(text, sizes, width)?;
        self.room_for(block.height);
        let (height, y) = (block.height, self.y);
        self.draw(Item::Text { block, x: MARGIN, y, role });
        self.y += height + GAP;
        Ok(())
    }

    /// A thing with room for a time and initials beside it.
    fn line(&mut self, thing: &str) -> Result<(), RunnerError> {
        let block = self.set(thing, &TEXT_SIZES, WIDTH - SIGN_WIDTH - GAP)?;
        let sign = self.set(SIGN, &SMALL_SIZES, SIGN_WIDTH)?;
        let height = block.height.max(sign.height * 2.0);
        self.room_for(height);
        let (y, right) = (self.y, MARGIN + WIDTH - SIGN_WIDTH);
        self.draw(Item::Text { block, x: MARGIN, y, role: Role::Text });
        self.draw(Item::Text { block: sign, x: right, y, role: Role::Text });
        self.draw(Item::Rule { x: right, y: y + height, length: SIGN_WIDTH });
        self.y += height + GAP;
        Ok(())
    }

    fn room_for(&mut self, height: f32) {
        if self.y + height > BOTTOM {
            self.pages.push(Vec::new());
            self.y = MARGIN;
        }
    }

    fn draw(&mut self, item: Item) {
        if let Some(page) = self.pages.last_mut() {
            page.push(item);
        }
    }
}
