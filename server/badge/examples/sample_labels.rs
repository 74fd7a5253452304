//! Writes sample labels, a list to walk with, and what is expected to be read back from them, for the checks in `tests/outside/label`:
//! `cargo run --example sample_labels -- DIRECTORY`. Every lot and name here is invented.

use std::error::Error;
use std::fs;
use std::path::Path;

use sellion_badge::sheet::label_sheet::{Contents, LabelPaper, LabelWords, PrintedLabel, render};
use sellion_badge::sheet::{Fonts, RunnerList, RunnerPlace, render_runner_list};
use sellion_rules::supplies::{Agent, Solution};
use serde_json::{Value, json};
use uuid::Uuid;

/// The places left on the first sheet, and how many labels: more than one sheet.
const SHEETS: [(&str, LabelPaper, usize); 2] =
    [("a4.pdf", LabelPaper::A4, 5), ("letter.pdf", LabelPaper::Letter, 0)];
const LABELS: usize = 48;

fn main() -> Result<(), Box<dyn Error>> {
    let directory = std::env::args_os().nth(1).ok_or("name a directory to write to")?;
    let directory = Path::new(&directory);
    fs::create_dir_all(directory)?;
    let fonts = Fonts::embedded()?;
    let labels: Vec<_> = (0..LABELS).map(sample).collect();
    let mut sheets = Vec::new();
    for (file, paper, first) in SHEETS {
        fs::write(directory.join(file), render(&labels, paper, first, &fonts, &mut |_| {})?)?;
        let boxes = (0..paper.labels_per_page()).map(|place| paper.label_box_mm(place));
        sheets.push(json!({
            "file": file,
            "page_mm": paper.page_size_mm(),
            "first_place": first,
            "boxes_mm": boxes.collect::<Vec<_>>(),
        }));
    }
    let list = runner_list();
    fs::write(directory.join("runner.pdf"), render_runner_list(&list, &fonts)?)?;
    let places = list.places.iter().map(|place| json!({ "place": place.place, "things": place.things }));
    let runner = json!({
        "file": "runner.pdf", "head": [list.site_name, list.subject, list.printed_at],
        "places": places.collect::<Vec<_>>(),
    });
    let labels: Vec<_> = labels.iter().map(expectation).collect();
    let expected = json!({ "sheets": sheets, "labels": labels, "runner": runner });
    fs::write(directory.join("expected.json"), serde_json::to_vec_pretty(&expected)?)?;
    Ok(())
}

/// A list of several pages, with names in more than one script and lines that have to be broken.
fn runner_list() -> RunnerList {
    let thing = |place: usize, number: usize| {
        format!(
            "Bottle T-{place}{number:02}, lot SB-2231, test solution of denatonium benzoate; there since 2026-03-10 07:0{number} (+00:00)"
        )
    };
    let place = |place: usize| RunnerPlace {
        place: format!("Station {place}, Assembly hall Łódź"),
        things: (0..=place % 6).map(|number| thing(place, number)).collect(),
    };
    RunnerList {
        site_name: "Marrowfield – Żółć".to_owned(),
        subject: "Lot SB-2231 of Brenning Optics, test solution of denatonium benzoate".to_owned(),
        printed_at: "Printed 2026-03-10 11:24 (+00:00)".to_owned(),
        places: (1..=18).map(place).collect(),
    }
}

/// Every liquid in turn, then nebulizers kept for each and for none, then hoods.
fn sample(index: usize) -> PrintedLabel {
    let liquids: Vec<Contents> = Agent::ALL
        .iter()
        .flat_map(|agent| Solution::ALL.iter().map(move |solution| (*agent, *solution)))
        .filter(|(agent, solution)| agent.has(*solution))
        .map(|(agent, solution)| Contents { agent, solution })
        .collect();
    let liquid = liquids.iter().copied().cycle().nth(index / 3);
    let words = match (index % 3, liquid) {
        (0, Some(contents)) => LabelWords::Bottle {
            contents,
            lot_number: format!("LT-{:05}/{index}", index * 7919 % 100_000),
            use_until: format!("{} Sep 2027", index % 28 + 1),
            opened_life_days: index.is_multiple_of(2).then_some(30),
        },
        (1, contents) => LabelWords::Nebulizer {
            name: format!("Nebulizer {index}"),
            contents: contents.filter(|_| !index.is_multiple_of(4)),
        },
        _ => LabelWords::Hood { name: format!("Hood {index} of the west stand") },
    };
    // Spread over all bits, the same in every run.
    let id = u128::try_from(index)
        .unwrap_or(0)
        .wrapping_add(1)
        .wrapping_mul(0x9e37_79b9_7f4a_7c15_f39c_c060_5ced_c835);
    PrintedLabel { id: Uuid::from_u128(id), words }
}

fn expectation(printed: &PrintedLabel) -> Value {
    let label = printed.label();
    let (words, contents) = match &printed.words {
        LabelWords::Bottle { contents, lot_number, use_until, opened_life_days } => {
            let life = opened_life_days.map(|days| format!("then good for {days} days"));
            let words =
                [format!("Lot {lot_number}"), format!("Use until {use_until}"), "Opened on".to_owned()];
            (words.into_iter().chain(life).collect::<Vec<_>>(), Some(*contents))
        }
        LabelWords::Nebulizer { name, contents } => (vec![name.clone()], *contents),
        LabelWords::Hood { name } => (vec![name.clone()], None),
    };
    let liquid = contents.map(|contents| [contents.agent.name(), contents.solution.name()]);
    json!({
        "code": label.text(),
        "shown": label.to_string(),
        "kind": label.kind.name(),
        "words": words,
        "liquid": liquid,
        "solution": contents.map(|contents| contents.solution.as_str()),
    })
}
