//! `sellion serve`.

use std::{net::SocketAddr, path::PathBuf, process::ExitCode};

use sellion_web::{Clock, Config, StreamLimits, Tls, usual_fonts};

use crate::database::{self, Purpose};

#[derive(Debug, clap::Args)]
pub(crate) struct Arguments {
    #[command(flatten)]
    database: database::DatabaseArguments,
    /// Where to listen. Other machines reach the server only at an address that is not 127.0.0.1.
    #[arg(long, env = "SELLION_LISTEN", default_value = "127.0.0.1:8711")]
    listen: SocketAddr,
    /// Where others reach the installation, such as https://fit.example. Signed status lists name it, so every server
    /// of an installation is told the same; by default it is where this server listens.
    #[arg(long, env = "SELLION_ADDRESS", value_parser = address, value_name = "URL")]
    address: Option<String>,
    /// Threads that serve requests.
    #[arg(long, env = "SELLION_WORKERS", default_value_t = workers(), value_parser = clap::value_parser!(u16).range(1..=256))]
    workers: u16,
    /// Speak TLS, with this certificate (PEM, those that vouch for it below it).
    #[arg(long, env = "SELLION_TLS_CERTIFICATE", value_name = "FILE", requires = "tls_key")]
    tls_certificate: Option<PathBuf>,
    /// The certificate's private key (PEM).
    #[arg(long, env = "SELLION_TLS_KEY", value_name = "FILE", requires = "tls_certificate")]
    tls_key: Option<PathBuf>,
    /// Listen here without TLS too, only to send browsers on to the encrypted address.
    #[arg(long, env = "SELLION_REDIRECT_FROM", value_name = "ADDRESS", requires = "tls_certificate")]
    redirect_from: Option<SocketAddr>,
    /// Let the sign-in cookie travel by TLS only: always so with a certificate. Set this wherever a proxy speaks TLS to the browsers.
    #[arg(long, env = "SELLION_SECURE_COOKIE")]
    secure_cookie: bool,
    /// A font file for names in further scripts; may be given several times. By default Noto Sans CJK, where
    /// Debian keeps it.
    #[arg(long = "font", env = "SELLION_FONTS", value_delimiter = ':', value_name = "FILE")]
    fonts: Vec<PathBuf>,
}

impl Arguments {
    fn tls(&self) -> Option<Tls> {
        let (certificate, key) = (self.tls_certificate.clone()?, self.tls_key.clone()?);
        Some(Tls { certificate, key })
    }
}

fn address(text: &str) -> Result<String, String> {
    let bare = text.trim_end_matches('/');
    let host = bare.strip_prefix("https://").or_else(|| bare.strip_prefix("http://")).unwrap_or_default();
    if host.is_empty() || host.contains(|c: char| c.is_whitespace() || c == '?' || c == '#') {
        return Err("an address begins with https:// or http:// and goes on with a host".to_owned());
    }
    Ok(bare.to_owned())
}

fn workers() -> u16 {
    std::thread::available_parallelism().ok().and_then(|cores| u16::try_from(cores.get()).ok()).unwrap_or(2)
}

pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let database = arguments.database.open(Purpose::Keep)?;
    let secret = arguments.database.secret()?;
    if !sellion_store::user::any(&mut *database.store.connection()?)? {
        eprintln!("There is no user yet. Add the first one from another terminal:");
        eprintln!("  sellion user add NAME --role admin --site SITE --new-site --time-zone ZONE");
    }
    sellion_web::check_signing_keys(&mut *database.store.connection()?, &secret)?;
    let config = Config {
        listen: arguments.listen,
        address: arguments.address.clone(),
        secret,
        clock: Clock::default(),
        workers: usize::from(arguments.workers),
        secure_cookie: arguments.secure_cookie,
        fonts: match &*arguments.fonts {
            [] => usual_fonts(),
            fonts => fonts.to_vec(),
        },
        streams: StreamLimits::default(),
        tls: arguments.tls(),
        redirect_from: arguments.redirect_from,
    };
    let scheme = if config.tls.is_some() { "https" } else { "http" };
    sellion_web::run(database.store.clone(), &config, |running| {
        eprintln!("Listening on {scheme}://{} (documentation at /docs/)", running.address);
    })?;
    database.close()?;
    Ok(ExitCode::SUCCESS)
}
