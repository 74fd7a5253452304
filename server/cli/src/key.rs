//! `sellion key`: the keys that sign badges. They are made, changed and withdrawn here and nowhere else.

use std::{path::PathBuf, process::ExitCode};

use anyhow::bail;
use sellion_store::{PgConnection, signing_key, site};
use sellion_web::{
    Clock, Secret,
    keys::{self, Made},
};
use uuid::Uuid;

use crate::database::{Database, DatabaseArguments, Purpose};

#[derive(Debug, clap::Subcommand)]
pub(crate) enum Command {
    /// List the keys of a site, with how many badges in force each has signed.
    List(ListArguments),
    /// Make a key. A site's first key signs; a further one stands by, published, until the site rotates to it.
    Create(Arguments),
    /// Let the key that stands by sign from now on, or a new one. What the old key signed is still accepted.
    Rotate(Arguments),
    /// Accept nothing any more that a key signed.
    Retire(RetireArguments),
    /// Withdraw a key that is in wrong hands: every badge it signed ends, and another key signs from now on.
    Withdraw(WithdrawArguments),
    /// Seal the private halves of all sites under another secret. Then start every server with that secret.
    Reseal(ResealArguments),
}

#[derive(Debug, clap::Args)]
pub(crate) struct Arguments {
    #[command(flatten)]
    database: DatabaseArguments,
    /// The site, by its name; not needed where there is only one.
    #[arg(long)]
    site: Option<String>,
}

#[derive(Debug, clap::Args)]
pub(crate) struct ListArguments {
    #[command(flatten)]
    common: Arguments,
    /// Print one JSON object for each key.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, clap::Args)]
pub(crate) struct RetireArguments {
    #[command(flatten)]
    common: Arguments,
    /// The key, as `sellion key list` shows it; it may begin with a hyphen.
    #[arg(allow_hyphen_values = true)]
    kid: String,
    /// Retire it although badges in force stand on it: no gate takes them any more.
    #[arg(long)]
    even_if_badges_stand: bool,
}

#[derive(Debug, clap::Args)]
pub(crate) struct WithdrawArguments {
    #[command(flatten)]
    common: Arguments,
    /// The key, as `sellion key list` shows it; it may begin with a hyphen.
    #[arg(allow_hyphen_values = true)]
    kid: String,
    /// Really end every badge that the key signed. Without it, the number of them is told and nothing is done.
    #[arg(long)]
    yes: bool,
}

#[derive(Debug, clap::Args)]
pub(crate) struct ResealArguments {
    #[command(flatten)]
    database: DatabaseArguments,
    /// The file with the new secret; made where there is none.
    #[arg(long, value_name = "FILE")]
    new_secret_file: PathBuf,
}

pub(crate) fn run(command: &Command) -> anyhow::Result<ExitCode> {
    match command {
        Command::List(arguments) => list(arguments),
        Command::Create(arguments) => create(arguments),
        Command::Rotate(arguments) => rotate(arguments),
        Command::Retire(arguments) => retire(arguments),
        Command::Withdraw(arguments) => withdraw(arguments),
        Command::Reseal(arguments) => reseal(arguments),
    }
}

/// Opens the database and finds the site, does the work, and closes again.
fn at_site(
    arguments: &Arguments,
    purpose: Purpose,
    work: impl FnOnce(&mut PgConnection, Uuid) -> anyhow::Result<ExitCode>,
) -> anyhow::Result<ExitCode> {
    with(arguments.database.open(purpose)?, |conn| {
        let site_id = find_site(conn, arguments.site.as_deref())?;
        work(conn, site_id)
    })
}

fn with<T>(
    database: Database,
    work: impl FnOnce(&mut PgConnection) -> anyhow::Result<T>,
) -> anyhow::Result<T> {
    let done = work(&mut *database.store.connection()?);
    database.close()?;
    done
}

fn find_site(conn: &mut PgConnection, name: Option<&str>) -> anyhow::Result<Uuid> {
    let sites = site::all(conn)?;
    let names: Vec<&str> = sites.iter().map(|site| site.name.as_str()).collect();
    let known = if names.is_empty() { "none yet".to_owned() } else { names.join(", ") };
    match (name, &*sites) {
        (None, [only]) => Ok(only.id),
        (None, _) => bail!("say which site with --site (there is: {known})"),
        (Some(name), _) => match sites.iter().find(|site| site.name == name.trim()) {
            Some(site) => Ok(site.id),
            None => bail!("there is no site {name} (there is: {known})"),
        },
    }
}

fn list(arguments: &ListArguments) -> anyhow::Result<ExitCode> {
    at_site(&arguments.common, Purpose::Look, |conn, site_id| {
        let keys = signing_key::list(conn, site_id, Clock::default().now())?;
        if keys.is_empty() && !arguments.json {
            println!("no key yet: the first badge makes one, or `sellion key create`");
        }
        for (key, badges) in keys {
            if arguments.json {
                let line = serde_json::json!({
                    "kid": key.kid, "state": key.state().as_str(), "created_at": key.created_at,
                    "signs_until": key.signs_until, "retired_at": key.retired_at,
                    "withdrawn_at": key.withdrawn_at, "badges_in_force": badges,
                });
                println!("{line}");
            } else {
                let made = key.created_at.format("%Y-%m-%d");
                let state = key.state().as_str().replace('_', " ");
                println!("{}  {state:<9}  made {made}  {badges} badges in force", key.kid);
            }
        }
        Ok(ExitCode::SUCCESS)
    })
}

fn create(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let secret = arguments.database.secret()?;
    at_site(arguments, Purpose::Write, |conn, site_id| {
        match keys::create(conn, site_id, &secret, Clock::default().now())? {
            Made::Signs(kid) => println!("{kid} signs"),
            Made::StandsBy(kid) => {
                println!("{kid} stands by; once every gate has fetched it, run `sellion key rotate`");
            }
        }
        Ok(ExitCode::SUCCESS)
    })
}

fn rotate(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let secret = arguments.database.secret()?;
    at_site(arguments, Purpose::Write, |conn, site_id| {
        let (old, new) = keys::rotate(conn, site_id, &secret, Clock::default().now())?;
        println!("{new} signs; what {old} signed is accepted until it is retired");
        Ok(ExitCode::SUCCESS)
    })
}

fn retire(arguments: &RetireArguments) -> anyhow::Result<ExitCode> {
    let RetireArguments { common, kid, even_if_badges_stand } = arguments;
    at_site(common, Purpose::Write, |conn, site_id| {
        let badges = keys::retire(conn, site_id, (kid, *even_if_badges_stand), Clock::default().now())?;
        println!("{kid} is retired; {badges} badges in force are not valid any more");
        Ok(ExitCode::SUCCESS)
    })
}

fn withdraw(arguments: &WithdrawArguments) -> anyhow::Result<ExitCode> {
    let WithdrawArguments { common, kid, yes } = arguments;
    let secret = common.database.secret()?;
    at_site(common, Purpose::Write, |conn, site_id| {
        let now = Clock::default().now();
        if !yes {
            let keys = signing_key::list(conn, site_id, now)?;
            let Some((_, badges)) = keys.iter().find(|(key, _)| key.kid == *kid) else {
                bail!("there is no key {kid} here: `sellion key list` shows them")
            };
            bail!("nothing was done: with --yes this ends {badges} badges in force, for good");
        }
        let (badges, successor) = keys::withdraw(conn, site_id, kid, &secret, now)?;
        println!("{kid} is withdrawn; {badges} badges ended");
        if let Some(successor) = successor {
            println!("{successor} signs");
        }
        Ok(ExitCode::SUCCESS)
    })
}

fn reseal(arguments: &ResealArguments) -> anyhow::Result<ExitCode> {
    let present = arguments.database.secret()?;
    let next = Secret::from_file(&arguments.new_secret_file)?;
    with(arguments.database.open(Purpose::Write)?, |conn| {
        let keys = keys::reseal(conn, &present, &next, Clock::default().now())?;
        let file = arguments.new_secret_file.display();
        println!("{keys} keys are sealed under {file}: start every server with it; everybody signs in again");
        Ok(ExitCode::SUCCESS)
    })
}
