//! How badges are printed: begun sheets, printers and their dots, slips, proofs. What other programs make of it is
//! checked in `tests/outside/badge`.

#![allow(clippy::unwrap_used, reason = "an unmet expectation ends the test")]

use sellion_badge::Serial;
use sellion_badge::sheet::{
    Fonts, Layout, MODULE_DOTS_WANTED, MODULE_MM_MIN, Print, Printed, PrintedBadge, PrintedRespirator,
    Printer, Resolution, SheetError, check, render, render_proof,
};

/// A code of so many characters: 340 are those of a usual badge, version 11.
fn badge(code_length: usize) -> PrintedBadge {
    PrintedBadge {
        display_name: "Ana Ilves".to_owned(),
        serial: Serial::from_number(4_711).unwrap(),
        valid_until: "2027-08-31".to_owned(),
        respirators: vec![PrintedRespirator {
            name: "Alder 312".to_owned(),
            size: "medium".to_owned(),
            due_on: "2027-08-31".to_owned(),
        }],
        code_text: format!("SL1:{}", "QED8WEX0 ".repeat(90)).chars().take(code_length).collect(),
        site_name: "Lindenhof General Hospital".to_owned(),
    }
}

fn print(badges: &[PrintedBadge], print: Print) -> Result<Printed, SheetError> {
    render(badges, &print, &Fonts::embedded().unwrap(), &mut |_| {})
}

fn at(layout: Layout, resolution: Resolution) -> Print {
    Print { printer: Printer { resolution, ..Printer::default() }, ..layout.into() }
}

fn pages(printed: &Printed) -> usize {
    String::from_utf8_lossy(&printed.pdf).matches("/MediaBox").count()
}

#[test]
fn a_half_used_sheet_is_filled_from_any_place() {
    let badges = vec![badge(340); 11];
    for (first_place, wanted) in [(0, 2), (9, 2), (8, 2), (5, 2)] {
        let begun = Print { first_place, ..Layout::A4Sheet.into() };
        assert_eq!(pages(&print(&badges, begun).unwrap()), wanted, "from {first_place}");
    }
    let begun = Print { first_place: 9, ..Layout::LetterSheet.into() };
    assert_eq!(pages(&print(&vec![badge(340); 12], begun).unwrap()), 3);
    let beside = Print { first_place: 10, ..Layout::A4Sheet.into() };
    assert_eq!(print(&badges, beside), Err(SheetError::FirstPlace { last: 9 }));
    let second = Print { first_place: 1, ..Layout::Card.into() };
    assert_eq!(print(&badges, second), Err(SheetError::FirstPlace { last: 0 }));
}

/// Fact 7.24: four dots or more make a module; 203 dpi needs 0.50 mm for them and 600 dpi 0.17 mm.
#[test]
fn modules_are_whole_dots_of_the_printer() {
    for (resolution, dots, mm) in
        [(Resolution::Dpi203, 4, 0.5005), (Resolution::Dpi300, 5, 0.4233), (Resolution::Dpi600, 10, 0.4233)]
    {
        let module = print(&[badge(340)], at(Layout::Card, resolution)).unwrap().module;
        assert_eq!(module.dots, dots, "{resolution:?}");
        assert!((module.mm - mm).abs() < 0.0005, "{resolution:?}: {}", module.mm);
        assert!(module.mm >= MODULE_MM_MIN && module.is_as_wanted());
    }
}

#[test]
fn too_few_dots_are_said_and_too_small_modules_refused() {
    // Version 13, that of four respirators: at 203 dpi three dots are 0.375 mm.
    let module = print(&[badge(480)], at(Layout::Card, Resolution::Dpi203)).unwrap().module;
    assert_eq!((module.dots, module.is_as_wanted()), (MODULE_DOTS_WANTED - 1, false));
    // Version 17: two dots would be 0.25 mm.
    let dense = print(&[badge(700)], at(Layout::Card, Resolution::Dpi203));
    assert!(matches!(dense, Err(SheetError::CodeTooDense { .. })), "{dense:?}");
    assert!(print(&[badge(700)], at(Layout::A4Single, Resolution::Dpi203)).is_ok());
    assert!(print(&[badge(700)], at(Layout::Card, Resolution::Dpi300)).unwrap().module.is_as_wanted());
}

#[test]
fn the_smallest_module_of_a_document_is_the_one_told() {
    let both = print(&[badge(340), badge(700)], Layout::A4Sheet.into()).unwrap();
    assert_eq!(both.module, print(&[badge(700)], Layout::A4Sheet.into()).unwrap().module);
}

#[test]
fn an_offset_moves_what_is_printed_and_nothing_else() {
    let still = print(&[badge(340)], Layout::A4Sheet.into()).unwrap();
    let printer = Printer { offset_mm: (1.5, -0.5), ..Printer::default() };
    let moved = print(&[badge(340)], Print { printer, ..Layout::A4Sheet.into() }).unwrap();
    assert_eq!((pages(&moved), moved.module), (pages(&still), still.module));
    assert!(moved.pdf != still.pdf);
}

#[test]
fn a_slip_is_cut_where_its_text_ends() {
    let height = |respirators: usize| {
        let mut badge = badge(340);
        badge.respirators = vec![badge.respirators[0].clone(); respirators];
        let printed = print(&[badge], Layout::Slip.into()).unwrap();
        let text = String::from_utf8_lossy(&printed.pdf).into_owned();
        let start = text.find("/MediaBox").unwrap();
        let list = text[start..].split(['[', ']']).nth(1).unwrap();
        let numbers: Vec<f32> = list.split_whitespace().map(|number| number.parse().unwrap()).collect();
        assert!((numbers[2] * 25.4 / 72.0 - 80.0).abs() < 0.01, "80 mm wide: {list}");
        numbers[3]
    };
    assert!(height(1) < height(2) && height(2) < height(4));
    let mut endless = badge(340);
    endless.respirators = vec![endless.respirators[0].clone(); 40];
    assert!(matches!(print(&[endless], Layout::Slip.into()), Err(SheetError::TooLong { .. })));
}

#[test]
fn whether_a_badge_can_be_printed_is_known_beforehand() {
    let fonts = Fonts::embedded().unwrap();
    let mut strange = badge(340);
    assert_eq!(check(&strange, &Layout::Card.into(), &fonts), Ok(()));
    strange.display_name = "Ana \u{13000}".to_owned();
    for layout in Layout::ALL {
        let refused = print(&[strange.clone()], layout.into()).map(drop);
        assert!(matches!(refused, Err(SheetError::NoGlyph { character: '\u{13000}', .. })), "{layout:?}");
        assert_eq!(check(&strange, &layout.into(), &fonts), refused);
    }
}

#[test]
fn a_proof_sheet_suits_every_paper_and_printer() {
    let fonts = Fonts::embedded().unwrap();
    for layout in Layout::ALL {
        for resolution in Resolution::ALL {
            let printer = Printer { resolution, offset_mm: (0.5, -1.25) };
            let proof = render_proof(layout, printer, &fonts);
            assert!(proof.is_ok(), "{layout:?} at {resolution:?}: {:?}", proof.err());
            assert_eq!(proof.unwrap(), render_proof(layout, printer, &fonts).unwrap());
        }
    }
}
