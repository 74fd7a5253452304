//! Reads supply labels for the check in `tests/outside/gs1`: `cargo run --example read_labels -- YEAR`.
//!
//! Each line of the input is a JSON string, the text as a scanner delivers it; each line of the output is the label
//! or the refusal as JSON.

use std::error::Error;
use std::io::{self, BufRead as _, Write as _};

use sellion_rules::gs1::read_label;
use serde_json::json;

fn main() -> Result<(), Box<dyn Error>> {
    let this_year = std::env::args().nth(1).ok_or("name the present year")?.parse()?;
    let mut out = io::BufWriter::new(io::stdout().lock());
    for line in io::stdin().lock().lines() {
        let text: String = serde_json::from_str(&line?)?;
        let answer = match read_label(&text, this_year) {
            Ok(label) => json!({ "label": label }),
            Err(refusal) => json!({ "refused": refusal }),
        };
        writeln!(out, "{answer}")?;
    }
    Ok(out.flush()?)
}
