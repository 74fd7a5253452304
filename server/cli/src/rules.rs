//! `sellion rules`: what is in force, where each value comes from, and whether a site's own file is sound.

use std::{
    fs,
    io::{self, Write},
    path::Path,
    process::ExitCode,
};

use anyhow::{Context, bail};
use sellion_rules::ruleset::{Difference, Document, RuleSetVersion, RuleValue, diff};
use serde_json::json;

#[derive(Debug, clap::Subcommand)]
pub(crate) enum Command {
    /// The rule sets of this program, each version of each.
    List,
    /// Every value of a rule set with its unit, status and source.
    Show(ShowArguments),
    /// The values in which two rule sets differ.
    Diff {
        /// A name, NAME@VERSION, or a file.
        first: String,
        /// A name, NAME@VERSION, or a file.
        second: String,
    },
    /// Read a site's own file, and name every mistake as FILE:LINE:COLUMN.
    Check {
        /// The file, in TOML.
        file: String,
    },
}

#[derive(Debug, clap::Args)]
pub(crate) struct ShowArguments {
    /// A name, NAME@VERSION, or a file.
    name: String,
    /// The newest unless told.
    #[arg(long)]
    version: Option<String>,
    /// As JSON, for programs.
    #[arg(long)]
    json: bool,
}

/// Adds a line to what is said in the end.
macro_rules! say {
    ($out:ident, $($said:tt)*) => {{
        $out.push_str(&format!($($said)*));
        $out.push('\n');
    }};
}

pub(crate) fn run(command: &Command) -> anyhow::Result<ExitCode> {
    let mut out = String::new();
    let done = match command {
        Command::List => list(&mut out),
        Command::Show(arguments) => show(&mut out, arguments),
        Command::Diff { first, second } => differ(&mut out, first, second),
        Command::Check { file } => check(&mut out, file),
    };
    match io::stdout().write_all(out.as_bytes()) {
        // Whoever reads the first lines only, as `head` does, has what they wanted.
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => done,
        Err(error) => Err(error).context("standard output cannot be written"),
        Ok(()) => done,
    }
}

fn embedded() -> anyhow::Result<&'static [Document]> {
    Document::embedded()
        .map_err(|mistakes| anyhow::anyhow!("a rule set of this program is broken: {mistakes:?}"))
}

/// A rule set by name, by name and version, or out of a file.
fn named(text: &str) -> anyhow::Result<Document> {
    let (name, version) = text.split_once('@').map_or((text, None), |(name, version)| (name, Some(version)));
    let known = embedded()?;
    let found = match version {
        Some(version) => known.iter().find(|set| set.id.name == name && set.id.version == version).cloned(),
        None => Document::newest(name),
    };
    if let Some(found) = found {
        return Ok(found);
    }
    if !Path::new(text).is_file() {
        bail!("there is no rule set {text}, and no file of that name: see `sellion rules list`");
    }
    let content = fs::read_to_string(text).with_context(|| format!("{text} cannot be read"))?;
    Document::read(&content, &Document::find).map_err(|mistakes| {
        let lines: Vec<_> = mistakes.iter().map(|mistake| format!("{text}:{mistake}")).collect();
        anyhow::anyhow!("{}", lines.join("\n"))
    })
}

fn list(out: &mut String) -> anyhow::Result<ExitCode> {
    for set in embedded()? {
        let RuleSetVersion { name, version } = &set.id;
        let open = set.open().len();
        let state =
            if open == 0 { "usable".to_owned() } else { format!("{open} values to be confirmed before use") };
        say!(out, "{name:<20} {version:<14} {:>4} values  {state:<36} {}", set.values().len(), set.title);
    }
    Ok(ExitCode::SUCCESS)
}

fn show(out: &mut String, arguments: &ShowArguments) -> anyhow::Result<ExitCode> {
    let asked = match &arguments.version {
        Some(version) => format!("{}@{version}", arguments.name),
        None => arguments.name.clone(),
    };
    let set = named(&asked)?;
    if arguments.json {
        let whole = json!({
            "name": set.id.name, "version": set.id.version, "title": set.title, "based_on": set.based_on,
            "values": set.values(), "open": set.open(),
        });
        say!(out, "{}", serde_json::to_string_pretty(&whole)?);
        return Ok(ExitCode::SUCCESS);
    }
    say!(out, "{} ({})", set.title, set.id);
    for base in &set.based_on {
        say!(out, "based on {base}");
    }
    out.push('\n');
    for value in set.values() {
        say!(out, "{}", line(&value, !set.based_on.is_empty()));
    }
    for open in set.open() {
        say!(out, "to be confirmed before use: {open}");
    }
    Ok(ExitCode::SUCCESS)
}

/// One value for a person to read; whose it is, where there are several it could be of.
fn line(value: &RuleValue, tell_whose: bool) -> String {
    let RuleValue { key, value: scalar, unit, source, status, .. } = value;
    let by: Vec<_> = value.decided_by.iter().map(ToString::to_string).collect();
    let confirmed = match (&value.confirmed_by, value.confirmed_on) {
        (Some(person), Some(day)) => format!(", confirmed by {person} on {day}"),
        _ => String::new(),
    };
    let whose =
        if tell_whose { format!("\n    decided by {}{confirmed}", by.join(" and ")) } else { String::new() };
    format!("{key} = {scalar} ({unit})\n    {status}: {source}{whose}")
}

fn differ(out: &mut String, first: &str, second: &str) -> anyhow::Result<ExitCode> {
    let differences = diff(&named(first)?, &named(second)?);
    for Difference { key, first: ours, second: theirs } in &differences {
        say!(out, "{key}");
        for (side, values) in [(first, ours), (second, theirs)] {
            if values.is_empty() {
                say!(out, "    {side}: nothing");
            }
            for value in values {
                say!(out, "    {side}: {} {} [{}] {}", value.value, value.unit, value.status, value.source);
            }
        }
    }
    say!(out, "Values that differ: {}", differences.len());
    Ok(ExitCode::SUCCESS)
}

fn check(out: &mut String, file: &str) -> anyhow::Result<ExitCode> {
    let content = fs::read_to_string(file).with_context(|| format!("{file} cannot be read"))?;
    let set = match Document::read_own(&content, &Document::find) {
        Ok(set) => set,
        Err(mistakes) => {
            for mistake in &mistakes {
                say!(out, "{file}:{mistake}");
            }
            say!(out, "Mistakes: {}", mistakes.len());
            return Ok(ExitCode::FAILURE);
        }
    };
    let open = set.open();
    for open in &open {
        say!(out, "{file}: to be confirmed before use: {open}");
    }
    for why in set.resolve().iter().flat_map(|rules| rules.not_accepted.values()) {
        say!(out, "{file}: {}", why.sentence);
    }
    let state = if open.is_empty() { "sound, and can be used" } else { "sound, and cannot be used yet" };
    say!(out, "{} is {state}", set.id);
    Ok(ExitCode::SUCCESS)
}
