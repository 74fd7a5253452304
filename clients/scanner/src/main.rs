//! The program `sellion-gate`.

mod args;

use std::io::{self, IsTerminal as _, Write as _};
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

use anyhow::{Context as _, bail};
use chrono::DateTime;
use clap::Parser as _;
use sellion_badge::Read;
use sellion_gate::clock::Clock;
use sellion_gate::delivery::{deliver, fetch};
use sellion_gate::gate::{Gate, Shown};
use sellion_gate::home::Home;
use sellion_gate::server::{Server, Token};
use sellion_gate::watch::{Speaker, answer_lines, put};
use sellion_gate::{show, status};

use args::{Args, Command};

/// Something went wrong.
const FAILED: u8 = 1;

fn main() -> ExitCode {
    let args = Args::parse();
    match run(&args) {
        Ok(status) => ExitCode::from(status),
        Err(error) => {
            say(&format!("{error:#}"));
            ExitCode::from(FAILED)
        }
    }
}

/// To whoever looks after the gate, beside the answers.
fn say(text: &str) {
    writeln!(io::stderr().lock(), "sellion-gate: {text}").ok();
}

fn run(args: &Args) -> anyhow::Result<u8> {
    let home = Home::open(&home(args)?)?;
    let gate = Gate::empty(home, Clock::new());
    match &args.command {
        Command::Check { text } => check(args, &gate, text),
        Command::Watch { refresh_seconds } => watch(args, &gate, Duration::from_secs(*refresh_seconds)),
        Command::Fetch => {
            if let Err(error) = gate.load() {
                say(&format!("{error:#}"));
            }
            fetch(&gate, &server(args)?)?;
            print(&status::of(&gate)?.known)
        }
        Command::Deliver => {
            gate.load()?;
            let delivered = deliver(&gate, &server(args)?)?;
            print(&format!("{} delivered, {} refused", delivered.stored, delivered.refused))
        }
        Command::Status => {
            let read = gate.load();
            let status = status::of(&gate)?;
            print(&if args.json { status.json().to_string() } else { status.text() })?;
            read.map(|()| 0)
        }
        Command::ConfirmClock => confirm_clock(&gate),
        Command::Try => try_lines(args, &gate),
    }
}

fn print(text: &str) -> anyhow::Result<u8> {
    put(&mut io::stdout().lock(), text)?;
    Ok(0)
}

fn show_one(args: &Args, shown: &Shown) -> io::Result<()> {
    let text = if args.json { show::json(shown).to_string() } else { show::text(shown) };
    put(&mut io::stdout().lock(), &text)
}

fn check(args: &Args, gate: &Gate, text: &str) -> anyhow::Result<u8> {
    // An answer is given all the same: that nobody can tell.
    if let Err(error) = gate.load() {
        say(&format!("{error:#}"));
    }
    let read = match text {
        "-" => Read::line(&io::stdin().lines().next().transpose()?.context("standard input is empty")?),
        text => Read::line(text),
    };
    let shown = gate.scan(&read);
    show_one(args, &shown)?;
    Ok(show::exit_status(shown.answer))
}

fn watch(args: &Args, gate: &Gate, refresh: Duration) -> anyhow::Result<u8> {
    if let Err(error) = gate.load() {
        say(&format!("{error:#}"));
    }
    let speaker = match &args.server {
        Some(_) => Some(Speaker::start(gate.clone(), server(args)?, refresh, say)?),
        None => {
            say("Answering alone: no --server is given, so nothing is fetched or delivered.");
            None
        }
    };
    if io::stderr().is_terminal() {
        say(show::CAUTION);
    }
    answer_lines(gate, io::stdin().lock(), speaker.as_ref(), |shown| {
        show_one(args, shown)?;
        if args.json { Ok(()) } else { put(&mut io::stdout().lock(), "") }
    })?;
    if let Some(speaker) = speaker {
        speaker.finish();
    }
    Ok(0)
}

fn confirm_clock(gate: &Gate) -> anyhow::Result<u8> {
    gate.load()?;
    let mark = gate.look_at_clock();
    let known_at = gate.held().map(|held| held.known_at);
    let confirmed = mark.confirmed();
    if let Some(doubt) = confirmed.doubt(known_at) {
        bail!("this cannot be confirmed: {doubt}");
    }
    gate.home.remember("clock", &confirmed)?;
    print(&format!("The clock shows {}: taken as right.", confirmed.reading().wall.format("%F %T UTC")))
}

/// Moments are as given, and the clock is taken as right.
fn try_lines(args: &Args, gate: &Gate) -> anyhow::Result<u8> {
    gate.load()?;
    for line in io::stdin().lines() {
        let line = line?;
        let (moment, text) =
            line.split_once('\t').context("a line is a moment, a tabulator, and what was read")?;
        let moment = DateTime::parse_from_rfc3339(moment)
            .with_context(|| format!("{moment:?} is no moment such as 2026-11-27T06:45:00Z"))?;
        show_one(args, &gate.answer_at(&Read::line(text), moment.to_utc()))?;
    }
    Ok(0)
}

fn server(args: &Args) -> anyhow::Result<Server> {
    let base =
        args.server.as_deref().context("give the server's address with --server or SELLION_GATE_SERVER")?;
    let token = match (&args.token_file, std::env::var("SELLION_GATE_TOKEN")) {
        (Some(path), _) => Token::read(path)?,
        (None, Ok(token)) => Token::of(&token).context("SELLION_GATE_TOKEN")?,
        (None, Err(_)) => {
            bail!("give the file with the device token with --token-file, or set SELLION_GATE_TOKEN")
        }
    };
    Server::at(base, token, args.ca_file.as_deref())
}

fn home(args: &Args) -> anyhow::Result<PathBuf> {
    if let Some(home) = &args.home {
        return Ok(home.clone());
    }
    let folder = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    if let Some(state) = folder("XDG_STATE_HOME") {
        return Ok(state.join("sellion-gate"));
    }
    let user = folder("HOME").context("there is no home folder: give one with --home")?;
    if user == std::path::Path::new("/root") {
        return Ok(PathBuf::from("/var/lib/sellion-gate"));
    }
    Ok(user.join(".local/state/sellion-gate"))
}
