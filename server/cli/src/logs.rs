//! Log lines on standard error: for people by default, as JSON where a collector reads them.

use clap::ValueEnum;
use tracing_subscriber::EnvFilter;

/// How to log.
#[derive(Debug, clap::Args)]
pub(crate) struct LogArguments {
    /// The form of log lines on standard error.
    #[arg(long, global = true, value_enum, default_value = "text", env = "SELLION_LOG_FORMAT")]
    log_format: Format,
    /// Which log lines: error, warn, info, debug, or a filter such as `sellion_web=debug`.
    #[arg(long, global = true, default_value = "warn", env = "SELLION_LOG")]
    log: String,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Format {
    Text,
    Json,
}

/// Starts logging. A filter that cannot be read falls back to warnings: logs must not stop a hospital's day.
pub(crate) fn start(arguments: &LogArguments) {
    let filter = EnvFilter::try_new(&arguments.log).unwrap_or_else(|_| EnvFilter::new("warn"));
    let lines = tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr);
    match arguments.log_format {
        Format::Text => lines.with_target(false).init(),
        Format::Json => lines.json().init(),
    }
}
