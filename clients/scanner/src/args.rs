//! What the program is asked on its command line.

use std::path::PathBuf;

use clap::{Parser, Subcommand};

/// The end of the help text.
const AFTER: &str = "\
Exit status:
  0   enter
  10  not cleared for a respirator used at this gate
  11  cannot confirm: knowledge is missing, too old or in doubt, or the clock is
  12  not valid: no badge of ours, or one that has ended
  1   something went wrong; the sentence on standard error says what to do
  2   the command line was not understood

Examples:
  sellion-gate --server https://sellion.example --token-file /etc/sellion/token fetch
  sellion-gate check 7KQ2M-XW9RD
  sellion-gate watch --json < /dev/ttyACM0
  sellion-gate status

The device token comes from the file of --token-file, which nobody but its owner may read, or from the environment
variable SELLION_GATE_TOKEN; never from the command line, which everybody on the machine can see.

\"Not cleared\" and \"cannot confirm\" say nothing about a person's health or conduct. In an emergency follow the
emergency procedure: this program informs, and the person in charge decides.";

/// A gate without a browser: reads badges and answers alone, with a network or without.
#[derive(Debug, Parser)]
#[command(name = "sellion-gate", version, about, after_help = AFTER)]
pub(crate) struct Args {
    /// Where the gate keeps its pack and its scans [default: /var/lib/sellion-gate for root, else a folder of the user]
    #[arg(long, env = "SELLION_GATE_HOME", value_name = "FOLDER", global = true)]
    pub(crate) home: Option<PathBuf>,
    /// The server's address
    #[arg(long, env = "SELLION_GATE_SERVER", value_name = "URL", global = true)]
    pub(crate) server: Option<String>,
    /// The file that holds the device token
    #[arg(long, env = "SELLION_GATE_TOKEN_FILE", value_name = "FILE", global = true)]
    pub(crate) token_file: Option<PathBuf>,
    /// Certificates (PEM) of the hospital's own authority, trusted instead of the usual ones
    #[arg(long, env = "SELLION_GATE_CA_FILE", value_name = "FILE", global = true)]
    pub(crate) ca_file: Option<PathBuf>,
    /// Answer in lines of JSON
    #[arg(long, global = true)]
    pub(crate) json: bool,
    /// What to do
    #[command(subcommand)]
    pub(crate) command: Command,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Answer one code or typed serial
    Check {
        /// The text of a code, in quotes, or a serial; "-" reads one line of standard input
        text: String,
    },
    /// Answer every line of standard input, fetching packs and delivering scans meanwhile
    Watch {
        /// Seconds from one look at the server to the next
        #[arg(long, default_value_t = 15, value_parser = clap::value_parser!(u64).range(1..=3600))]
        refresh_seconds: u64,
    },
    /// Fetch the pack of this gate, or learn that the one held is current
    Fetch,
    /// Deliver the scans that wait
    Deliver,
    /// Say what is held and known, how old it is, what waits, and whether the clock is in doubt
    Status,
    /// Say that this machine's clock is right, after looking at another one
    ConfirmClock,
    /// Answer lines of MOMENT, tabulator, code or serial, as this gate would at those moments; keeps nothing
    Try,
}
