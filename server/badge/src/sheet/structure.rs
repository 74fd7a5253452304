//! What is read aloud, and in which order: the structure of a document beside its looks.
//!
//! Every badge or label is a section of its own; what only guides the eye or the scissors is marked as decoration. The
//! documents follow PDF/UA-1 (ISO 14289-1), which the PDF library checks as far as a program can.

use std::num::NonZeroU16;

use krilla::Document;
use krilla::SerializeSettings;
use krilla::configure::{Accessibility, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::geom::{Point, Rect};
use krilla::metadata::Metadata;
use krilla::outline::{Outline, OutlineNode};
use krilla::tagging::{BBox, Identifier, ListNumbering, Tag, TagGroup, TagTree};

use super::SheetError;
use super::typeset::Block;

/// The language of every text that is ours. Names are in none that could be told.
const LANGUAGE: &str = "en";

/// What a text is to whoever has it read aloud.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    /// What the section is about; also its entry in the outline.
    Title,
    /// A paragraph.
    Text,
    /// An entry of a list: those that follow each other are one list.
    Entry,
}

/// The structure of a document as it is drawn.
pub(super) struct Structure {
    tree: TagTree,
    outline: Outline,
}

/// The structure of one badge, label or page as it is drawn.
pub(super) struct Section {
    group: TagGroup,
    list: Option<TagGroup>,
    title: Option<String>,
}

/// A document that is checked against PDF/UA-1 as it is written.
pub(super) fn document(title: &str) -> Result<Document, SheetError> {
    let configuration = ConfigurationBuilder::new()
        .with_accessibility_validator(Accessibility::UA1)
        .finish()
        .map_err(|error| SheetError::Pdf(format!("{error:?}")))?;
    let mut document =
        Document::new_with(SerializeSettings { configuration, ..SerializeSettings::default() });
    let metadata = Metadata::new().title(title.to_owned()).language(LANGUAGE.to_owned());
    document.set_metadata(metadata.creator("Sellion".to_owned()));
    Ok(document)
}

impl Structure {
    pub(super) fn new() -> Self {
        Self { tree: TagTree::new().with_lang(Some(LANGUAGE.to_owned())), outline: Outline::new() }
    }

    /// Adds a section that begins at this place of a page.
    pub(super) fn add(&mut self, section: Section, page: usize, (x, y): (f32, f32)) {
        let Section { mut group, list, title } = section;
        group.children.extend(list.map(Into::into));
        let entry = title.unwrap_or_else(|| format!("Page {}", page + 1));
        self.outline.push_child(OutlineNode::new(entry, XyzDestination::new(page, Point::from_xy(x, y))));
        self.tree.push(group);
    }

    pub(super) fn finish(self, document: &mut Document) {
        document.set_tag_tree(self.tree);
        document.set_outline(self.outline);
    }
}

impl Section {
    pub(super) fn new() -> Self {
        Self { group: TagGroup::new(Tag::Section), list: None, title: None }
    }

    /// A text, drawn as the lines with these identifiers.
    pub(super) fn text(&mut self, role: Role, block: &Block, lines: Vec<Identifier>) {
        // Glyphs of right-to-left text stand on the page from left to right: here it is once more as it is read.
        let read = block.right_to_left.then(|| block.text.clone());
        let lines = lines.into_iter().map(Into::into).collect();
        if role != Role::Entry {
            self.group.children.extend(self.list.take().map(Into::into));
        }
        match role {
            Role::Title => {
                self.title.get_or_insert_with(|| block.text.clone());
                let heading = Tag::Hn(NonZeroU16::MIN, Some(block.text.clone())).with_actual_text(read);
                self.group.push(TagGroup::with_children(heading, lines));
            }
            Role::Text => self.group.push(TagGroup::with_children(Tag::P.with_actual_text(read), lines)),
            Role::Entry => {
                let body = TagGroup::with_children(Tag::LBody.with_actual_text(read), lines);
                let entry = TagGroup::with_children(Tag::LI, vec![body.into()]);
                let list = self.list.get_or_insert_with(|| TagGroup::new(Tag::L(ListNumbering::None)));
                list.push(entry);
            }
        }
    }

    /// A drawing that says something, with what it says in words.
    pub(super) fn figure(&mut self, words: &str, place: (usize, Rect), drawn: Identifier) {
        self.group.children.extend(self.list.take().map(Into::into));
        let (page, rect) = place;
        let figure = Tag::Figure(Some(words.to_owned())).with_bbox(Some(BBox::new(page, rect)));
        self.group.push(TagGroup::with_children(figure, vec![drawn.into()]));
    }
}
