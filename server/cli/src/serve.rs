//! `sellion serve`.

use std::{net::SocketAddr, path::PathBuf, process::ExitCode};

use sellion_web::{Clock, Config, usual_fonts};

use crate::database::{self, Share};

#[derive(Debug, clap::Args)]
pub(crate) struct Arguments {
    #[command(flatten)]
    database: database::DatabaseArguments,
    /// Where to listen. Other machines reach the server only at an address that is not 127.0.0.1.
    #[arg(long, env = "SELLION_LISTEN", default_value = "127.0.0.1:8711")]
    listen: SocketAddr,
    /// Threads that serve requests.
    #[arg(long, env = "SELLION_WORKERS", default_value_t = workers())]
    workers: usize,
    /// Let the sign-in cookie travel by TLS only. Set this wherever a proxy speaks TLS to the browsers.
    #[arg(long, env = "SELLION_SECURE_COOKIE")]
    secure_cookie: bool,
    /// A font file for names in further scripts; may be given several times. By default Noto Sans CJK, where
    /// Debian keeps it.
    #[arg(long = "font", env = "SELLION_FONTS", value_delimiter = ':', value_name = "FILE")]
    fonts: Vec<PathBuf>,
}

fn workers() -> usize {
    std::thread::available_parallelism().map_or(2, std::num::NonZero::get)
}

pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let secret = arguments.database.secret()?;
    let database = arguments.database.open(Share::Never)?;
    if !sellion_store::user::any(&mut *database.store.connection()?)? {
        eprintln!("There is no user yet. Add the first one from another terminal:");
        eprintln!("  sellion user add NAME --role admin --site SITE --new-site --time-zone ZONE");
    }
    sellion_web::check_signing_keys(&mut *database.store.connection()?, &secret)?;
    let config = Config {
        listen: arguments.listen,
        secret,
        clock: Clock::default(),
        workers: arguments.workers,
        secure_cookie: arguments.secure_cookie,
        fonts: match &*arguments.fonts {
            [] => usual_fonts(),
            fonts => fonts.to_vec(),
        },
    };
    sellion_web::run(database.store.clone(), &config, |running| {
        eprintln!("Listening on http://{} (documentation at /docs/)", running.address);
    })?;
    database.close()?;
    Ok(ExitCode::SUCCESS)
}
