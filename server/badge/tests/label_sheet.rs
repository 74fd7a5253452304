//! Sheets of labels: places, refusals, sameness. Reading them back by other programs is in `tests/outside/label`.

#![allow(clippy::unwrap_used, reason = "an unmet expectation ends the test")]

use sellion_badge::sheet::Fonts;
use sellion_badge::sheet::label_sheet::{
    Contents, LabelPaper, LabelSheetError, LabelWords, PrintedLabel, render,
};
use sellion_rules::supplies::{Agent, Solution};
use uuid::Uuid;

const ID: Uuid = Uuid::from_u128(0x0193_6f2e_7c1a_7b3d_8e5f_a1b2_c3d4_e5f6);

fn bottle(agent: Agent, solution: Solution, lot_number: &str) -> PrintedLabel {
    let words = LabelWords::Bottle {
        contents: Contents { agent, solution },
        lot_number: lot_number.to_owned(),
        use_until: "30 Sep 2027".to_owned(),
        opened_life_days: Some(30),
    };
    PrintedLabel { id: ID, words }
}

fn hood(name: &str) -> PrintedLabel {
    PrintedLabel { id: ID, words: LabelWords::Hood { name: name.to_owned() } }
}

fn print(labels: &[PrintedLabel], paper: LabelPaper, first: usize) -> Result<Vec<u8>, LabelSheetError> {
    render(labels, paper, first, &Fonts::embedded().unwrap(), &mut |_| {})
}

fn pages(pdf: &[u8]) -> usize {
    String::from_utf8_lossy(pdf).matches("/MediaBox").count()
}

/// ISO 216: A4 is 210 x 297 mm; the other paper is 8.5 x 11 inches. The size of the labels is common practice, no
/// source.
#[test]
fn labels_stand_on_the_paper_and_beside_each_other() {
    assert_eq!(LabelPaper::A4.page_size_mm(), (210.0, 297.0));
    assert_eq!(LabelPaper::Letter.page_size_mm(), (8.5 * 25.4, 11.0 * 25.4));
    for paper in LabelPaper::ALL {
        let (page_width, page_height) = paper.page_size_mm();
        let boxes: Vec<_> = (0..paper.labels_per_page()).map(|place| paper.label_box_mm(place)).collect();
        assert_eq!(boxes.len(), 21);
        for (place, [left, top, width, height]) in boxes.iter().copied().enumerate() {
            assert_eq!((width, height), (63.5, 38.1));
            assert!(left >= 5.0 && top >= 5.0 && left + width <= page_width - 5.0, "{place}");
            assert!(top + height <= page_height - 5.0, "{place}");
            for [other_left, other_top, ..] in boxes.iter().skip(place + 1) {
                let beside = (other_left - left).abs() >= width - 0.01;
                assert!(beside || (other_top - top).abs() >= height - 0.01, "{place}");
            }
        }
    }
}

#[test]
fn printing_starts_at_any_place_and_goes_on_at_the_first_of_the_next_sheet() {
    for (count, first, wanted) in
        [(1, 0, 1), (21, 0, 1), (22, 0, 2), (1, 20, 1), (2, 20, 2), (40, 3, 3), (39, 3, 2)]
    {
        let labels = vec![hood("Hood 4"); count];
        assert_eq!(pages(&print(&labels, LabelPaper::A4, first).unwrap()), wanted, "{count} from {first}");
    }
    let mut seen = Vec::new();
    let labels = vec![hood("Hood 4"); 25];
    render(&labels, LabelPaper::Letter, 19, &Fonts::embedded().unwrap(), &mut |done| seen.push(done))
        .unwrap();
    assert_eq!(seen, (1..=25).collect::<Vec<_>>());
    assert_eq!(print(&labels, LabelPaper::A4, 21), Err(LabelSheetError::FirstPlace { last: 20 }));
    assert_eq!(print(&labels, LabelPaper::A4, usize::MAX), Err(LabelSheetError::FirstPlace { last: 20 }));
    assert_eq!(print(&[], LabelPaper::A4, 0), Err(LabelSheetError::Empty));
}

#[test]
fn the_same_labels_give_the_same_bytes() {
    let labels = [bottle(Agent::Saccharin, Solution::Test, "S-1"), hood("Hood 4")];
    assert!(print(&labels, LabelPaper::A4, 2).unwrap() == print(&labels, LabelPaper::A4, 2).unwrap());
    assert!(print(&labels, LabelPaper::A4, 2).unwrap() != print(&labels, LabelPaper::A4, 3).unwrap());
}

/// Every liquid there is, with the longest lot number that a supply label can bring (fact 8.2: 20 characters) and with
/// one twice as long.
#[test]
fn every_liquid_fits_its_label() {
    for agent in Agent::ALL.iter().copied() {
        for solution in Solution::ALL.iter().copied().filter(|solution| agent.has(*solution)) {
            for lot in ["7", &"W".repeat(20), &"M0".repeat(20)] {
                let label = bottle(agent, solution, lot);
                assert!(print(&[label], LabelPaper::A4, 0).is_ok(), "{agent} {solution} {lot}");
            }
        }
    }
}

#[test]
fn what_does_not_fit_or_has_no_letters_here_is_refused_by_its_label() {
    let endless = bottle(Agent::Saccharin, Solution::Test, &"W".repeat(200));
    let refused = LabelSheetError::TooLong { label: endless.label(), part: "lot number" };
    assert_eq!(print(&[endless], LabelPaper::A4, 0), Err(refused));
    let foreign = hood("面罩 4");
    let refused = LabelSheetError::NoGlyph { label: foreign.label(), character: '面' };
    assert_eq!(print(&[hood("Hood 3"), foreign], LabelPaper::A4, 0), Err(refused));
    let long = hood(&"Hood of the western station ".repeat(40));
    assert!(matches!(print(&[long], LabelPaper::A4, 0), Err(LabelSheetError::TooLong { part: "name", .. })));
}
