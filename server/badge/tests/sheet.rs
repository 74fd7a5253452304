//! Printed sheets: sizes, refusals, sameness. Reading them back by other programs is in `tests/outside/badge`.

#![allow(clippy::unwrap_used, reason = "an unmet expectation ends the test")]

use sellion_badge::Serial;
use sellion_badge::sheet::{
    CARD_HEIGHT_MM, CARD_WIDTH_MM, Fonts, Layout, MODULE_MM_MIN, PrintedBadge, PrintedRespirator,
    RunnerError, RunnerList, RunnerPlace, SheetError, render, render_runner_list,
};

fn badge(name: &str) -> PrintedBadge {
    PrintedBadge {
        display_name: name.to_owned(),
        serial: Serial::from_number(4_711).unwrap(),
        valid_until: "31 Aug 2027".to_owned(),
        respirators: vec![respirator("Alder 312", "medium")],
        code_text: format!("SL1:{}", "QED8WEX0".repeat(40)),
        site_name: "Lindenhof General Hospital".to_owned(),
    }
}

fn respirator(name: &str, size: &str) -> PrintedRespirator {
    PrintedRespirator { name: name.to_owned(), size: size.to_owned(), due_on: "31 Aug 2027".to_owned() }
}

fn print(badges: &[PrintedBadge], layout: Layout) -> Result<Vec<u8>, SheetError> {
    let printed = render(badges, &layout.into(), &Fonts::embedded().unwrap(), &mut |_| {})?;
    Ok(printed.pdf)
}

/// The media box of every page in mm, read from the bytes of the document.
fn page_sizes_mm(pdf: &[u8]) -> Vec<(f32, f32)> {
    let text = String::from_utf8_lossy(pdf);
    let sizes = text.match_indices("/MediaBox").map(|(start, _)| {
        let list = text[start..].split(['[', ']']).nth(1).unwrap();
        let numbers: Vec<f32> = list.split_whitespace().map(|number| number.parse().unwrap()).collect();
        ((numbers[2] - numbers[0]) * 25.4 / 72.0, (numbers[3] - numbers[1]) * 25.4 / 72.0)
    });
    sizes.collect()
}

fn is_close(found: f32, wanted: f32) -> bool {
    (found - wanted).abs() < 0.005
}

/// ISO/IEC 7810, fact 7.23: ID-1 is 85.60 x 53.98 mm; ISO 216: A4 is 210 x 297 mm.
#[test]
fn pages_have_the_size_of_their_format() {
    assert_eq!((CARD_WIDTH_MM, CARD_HEIGHT_MM), (85.60, 53.98));
    let badges = vec![badge("Ana Ilves"); 11];
    for (layout, pages, width, height) in [
        (Layout::Card, 11, 85.60, 53.98),
        (Layout::A4Sheet, 2, 210.0, 297.0),
        (Layout::LetterSheet, 2, 215.9, 279.4),
        (Layout::A4Single, 11, 210.0, 297.0),
        (Layout::LetterSingle, 11, 215.9, 279.4),
    ] {
        let sizes = page_sizes_mm(&print(&badges, layout).unwrap());
        assert_eq!(sizes.len(), pages, "{layout:?}");
        assert!(sizes.iter().all(|size| is_close(size.0, width) && is_close(size.1, height)), "{sizes:?}");
    }
}

/// More badges than are laid out at once: no page ends early, and the order stays.
#[test]
fn many_badges_fill_every_page() {
    let badges = vec![badge("Ana Ilves"); 251];
    assert_eq!(page_sizes_mm(&print(&badges, Layout::A4Sheet).unwrap()).len(), 26);
}

#[test]
fn ten_whole_cards_stand_on_a_sheet_side_by_side() {
    let boxes: Vec<_> =
        (0..Layout::A4Sheet.badges_per_page()).map(|place| Layout::A4Sheet.badge_box_mm(place)).collect();
    assert_eq!(boxes.len(), 10);
    for (place, [left, top, width, height]) in boxes.iter().copied().enumerate() {
        assert!(is_close(width, 85.60) && is_close(height, 53.98));
        assert!(left >= 5.0 && top >= 5.0 && left + width <= 205.0 && top + height <= 292.0);
        assert!(is_close(left, boxes[0][0] + (place % 2) as f32 * 85.60));
        assert!(is_close(top, boxes[0][1] + (place / 2) as f32 * 53.98));
    }
}

#[test]
fn the_same_badges_give_the_same_bytes() {
    let badges: Vec<_> =
        ["Ana Ilves", "علاء الدين", "Nguyễn Thị Ấn"].into_iter().cycle().take(40).map(badge).collect();
    for layout in Layout::ALL {
        assert!(print(&badges, layout).unwrap() == print(&badges, layout).unwrap(), "{layout:?}");
    }
}

#[test]
fn progress_counts_every_badge_once() {
    let mut seen = Vec::new();
    let badges = vec![badge("Ana Ilves"); 23];
    render(&badges, &Layout::A4Sheet.into(), &Fonts::embedded().unwrap(), &mut |done| seen.push(done))
        .unwrap();
    assert_eq!(seen, (1..=23).collect::<Vec<_>>());
}

/// Never a box on paper: a character that no font has is an error that names it.
#[test]
fn a_missing_character_is_named() {
    for (name, character) in
        [("Sato 佐藤", '佐'), ("Ana \u{1f600}", '\u{1f600}'), ("A\tB", '\t'), ("A\u{2028}B", '\u{2028}')]
    {
        let error = print(&[badge(name)], Layout::Card).unwrap_err();
        assert_eq!(error, SheetError::NoGlyph { serial: badge(name).serial, character });
    }
    let mut other_field = badge("Ana Ilves");
    other_field.respirators = vec![respirator("面體", "medium")];
    assert!(matches!(print(&[other_field], Layout::Card), Err(SheetError::NoGlyph { character: '面', .. })));
}

/// A long name with several marks on its letters prints whole on a card: common practice, no source.
#[test]
fn long_names_fit_a_card() {
    let stacked = "a\u{304}\u{301}e\u{323}\u{302}".repeat(29);
    let words = "Ẩm\u{304}\u{301} Ứng\u{331} Hằng ".repeat(6);
    let arabic = "عبد الرحمن ".repeat(6);
    for name in [stacked.as_str(), words.trim(), arabic.trim(), &"M".repeat(58), "X", ""] {
        for layout in Layout::ALL {
            assert!(print(&[badge(name)], layout).is_ok(), "{name:?} on {layout:?}");
        }
    }
}

#[test]
fn a_list_too_long_for_a_card_is_refused_there_and_fits_a_page() {
    let mut full = badge("Ana Ilves");
    full.respirators =
        vec![respirator("Dogwood Full Facepiece Series 9000 with speech diaphragm", "medium to large"); 8];
    assert!(matches!(print(&[full.clone()], Layout::Card), Err(SheetError::TooLong { .. })));
    assert!(print(&[full], Layout::A4Single).is_ok());
    let mut endless = badge("Ana Ilves");
    endless.display_name = "Maximilian ".repeat(400);
    assert_eq!(
        print(&[endless], Layout::A4Single).unwrap_err(),
        SheetError::TooLong { serial: badge("").serial, part: "name" }
    );
}

#[test]
fn eight_respirators_of_usual_length_fit_a_card() {
    let mut full = badge("Ana Ilves");
    full.respirators = vec![respirator("Alder 312", "medium"); 8];
    assert!(print(&[full.clone()], Layout::Card).is_ok());
    full.respirators.clear();
    assert!(print(&[full], Layout::Card).is_ok());
}

/// Fact 7.24: four dots of a 300 dpi printer. The longest code that can be packed still prints that large.
#[test]
fn modules_are_never_smaller_than_a_printer_can_draw() {
    assert!((MODULE_MM_MIN - 0.33).abs() < f32::EPSILON);
    let mut dense = badge("Ana Ilves");
    dense.code_text = "A".repeat(sellion_badge::code::LENGTH_MAX);
    assert!(print(&[dense], Layout::Card).is_ok());
}

#[test]
fn what_is_no_code_is_not_printed() {
    let mut wrong = badge("Ana Ilves");
    for text in ["", "sl1:abc", &"A".repeat(731)] {
        wrong.code_text = text.to_owned();
        assert!(matches!(print(&[wrong.clone()], Layout::Card), Err(SheetError::Code { .. })), "{text:?}");
    }
    assert_eq!(print(&[], Layout::Card), Err(SheetError::Empty));
}

#[test]
fn a_file_that_is_no_font_is_refused_by_its_place() {
    let font = include_bytes!("../fonts/NotoSans-Regular.ttf").to_vec();
    assert_eq!(Fonts::with_extra(vec![font, b"not a font".to_vec()]).unwrap_err(), SheetError::Font(1));
}

/// Fonts are shared between requests of a server.
#[test]
fn fonts_can_be_shared_between_threads() {
    fn shared<T: Send + Sync + Clone>(_: &T) {}
    shared(&Fonts::embedded().unwrap());
}

fn runner_list(things: usize) -> RunnerList {
    let line = |number| format!("Bottle {number}, lot SB-2231, test solution of saccharin");
    RunnerList {
        site_name: "Lindenhof General Hospital".to_owned(),
        subject: "Lot SB-2231, test solution of saccharin".to_owned(),
        printed_at: "Printed 2026-03-10 11:20 (+01:00)".to_owned(),
        places: vec![RunnerPlace {
            place: "Station 2, Heron ward".to_owned(),
            things: (0..things).map(line).collect(),
        }],
    }
}

/// ISO 216: A4 is 210 x 297 mm.
#[test]
fn a_runner_list_goes_on_over_as_many_pages_as_it_needs() {
    let fonts = Fonts::embedded().unwrap();
    let pages = |things| page_sizes_mm(&render_runner_list(&runner_list(things), &fonts).unwrap());
    assert_eq!(pages(3).len(), 1);
    let many = pages(200);
    assert!(many.len() > 5, "{}", many.len());
    assert!(many.iter().all(|(width, height)| is_close(*width, 210.0) && is_close(*height, 297.0)));
    let empty = RunnerList { places: Vec::new(), ..runner_list(0) };
    assert_eq!(page_sizes_mm(&render_runner_list(&empty, &fonts).unwrap()).len(), 1);
    let again = || render_runner_list(&runner_list(3), &fonts).unwrap();
    assert_eq!(again(), again());
    let strange = RunnerList { subject: "Lot \u{10fffd}".to_owned(), ..runner_list(1) };
    assert_eq!(render_runner_list(&strange, &fonts), Err(RunnerError::NoGlyph('\u{10fffd}')));
}
