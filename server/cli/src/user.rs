//! `sellion user`: the first user of an installation, and whoever locked themselves out.

use std::{io::Read, process::ExitCode};

use anyhow::{Context, bail};
use chrono_tz::Tz;
use sellion_rules::{
    roles::{self, Role},
    ruleset::RuleSet,
    text,
};
use sellion_store::{
    Actor, PgConnection, TextList,
    site::{self, NewSite},
    user::{self, NewUser},
    write_on,
};
use sellion_web::Clock;
use uuid::Uuid;

use crate::database::{self, Purpose};

/// The rule set a new site opens its days under, unless told.
const RULE_SET: &str = "us-29cfr1910-134";
/// Letters of a made-up password: none that look alike.
const LETTERS: &[u8] = b"abcdefghijkmnpqrstuvwxyz23456789";

#[derive(Debug, clap::Subcommand)]
pub(crate) enum Command {
    /// Add a user; without --password-stdin a password is made up and printed once.
    Add(AddArguments),
    /// List the users.
    List(ListArguments),
}

#[derive(Debug, clap::Args)]
pub(crate) struct AddArguments {
    #[command(flatten)]
    database: database::DatabaseArguments,
    /// What the person signs in with.
    username: String,
    /// What the screens call the person; the username unless told.
    #[arg(long)]
    display_name: Option<String>,
    /// What the person may do; give it once per role.
    #[arg(long = "role", required = true, value_parser = role)]
    roles: Vec<Role>,
    /// The site the person belongs to, by its name.
    #[arg(long)]
    site: String,
    /// Set the site up: it must not exist yet.
    #[arg(long, requires = "time_zone")]
    new_site: bool,
    /// The new site's IANA time zone, such as Europe/Lisbon.
    #[arg(long, value_parser = time_zone)]
    time_zone: Option<Tz>,
    /// Read the password from standard input instead of making one up.
    #[arg(long)]
    password_stdin: bool,
}

#[derive(Debug, clap::Args)]
pub(crate) struct ListArguments {
    #[command(flatten)]
    database: database::DatabaseArguments,
    /// Print the list as JSON.
    #[arg(long)]
    json: bool,
}

fn role(text: &str) -> Result<Role, String> {
    text.parse().map_err(|_| {
        let known: Vec<&str> = Role::ALL.iter().map(|role| role.as_str()).collect();
        format!("the roles are: {}", known.join(", "))
    })
}

fn time_zone(text: &str) -> Result<Tz, String> {
    text.parse().map_err(|_| "use a name from the IANA time zone database, such as Europe/Lisbon".to_owned())
}

pub(crate) fn run(command: &Command) -> anyhow::Result<ExitCode> {
    match command {
        Command::Add(arguments) => add(arguments),
        Command::List(arguments) => list(arguments),
    }
}

fn add(arguments: &AddArguments) -> anyhow::Result<ExitCode> {
    let username = text::username(&arguments.username)?;
    let display_name = arguments.display_name.as_deref().unwrap_or(&username);
    let display_name = text::line(display_name, "display_name", text::SHORT)?;
    let roles = TextList::of(roles::each_once(&arguments.roles)?.iter().map(|role| role.as_str()));
    let (password, made_up) = password(arguments.password_stdin)?;
    let hash = sellion_web::hash_password(&password)?;
    let database = arguments.database.open(Purpose::Write)?;
    {
        let mut conn = database.store.connection()?;
        let site_id = site_id(&mut conn, arguments)?;
        let new = NewUser { id: Uuid::now_v7(), site_id, username, display_name, roles };
        write_on(&mut conn, &Actor::program(site_id), "create_user", Clock::default().now(), |tx| {
            user::create(tx, &new, &hash)
        })?;
        println!("{} may sign in at {}", new.username, arguments.site);
    }
    if made_up {
        println!("password: {password}");
    }
    database.close()?;
    Ok(ExitCode::SUCCESS)
}

fn password(from_stdin: bool) -> anyhow::Result<(String, bool)> {
    if from_stdin {
        let mut text = String::new();
        std::io::stdin().read_to_string(&mut text).context("no password came on standard input")?;
        return Ok((text.trim_end_matches(['\r', '\n']).to_owned(), false));
    }
    let mut bytes = [0; 20];
    getrandom::fill(&mut bytes).map_err(|error| anyhow::anyhow!("no randomness: {error}"))?;
    // 32 letters, so that a byte's low five bits pick one without favouring any.
    let letters: Vec<String> = bytes
        .chunks(5)
        .map(|chunk| chunk.iter().map(|byte| char::from(LETTERS[usize::from(byte & 31)])).collect())
        .collect();
    Ok((letters.join("-"), true))
}

fn site_id(conn: &mut PgConnection, arguments: &AddArguments) -> anyhow::Result<Uuid> {
    match (site::find_by_name(conn, arguments.site.trim())?, arguments.new_site) {
        (Some(_), true) => bail!("the site {} is set up already: leave out --new-site", arguments.site),
        (Some(site), false) => Ok(site.id),
        (None, false) => {
            let known: Vec<String> = site::all(conn)?.into_iter().map(|site| site.name).collect();
            let known = if known.is_empty() { "none yet".to_owned() } else { known.join(", ") };
            bail!(
                "there is no site {} (there is: {known}): add --new-site --time-zone ZONE to set it up",
                arguments.site
            )
        }
        (None, true) => {
            let zone = arguments.time_zone.context("a new site needs --time-zone")?;
            create_site(conn, &arguments.site, zone)
        }
    }
}

/// Sets up a site whose days open under the newest version of the default rule set.
pub(crate) fn create_site(conn: &mut PgConnection, name: &str, zone: Tz) -> anyhow::Result<Uuid> {
    let newest = RuleSet::newest(RULE_SET);
    let new = NewSite {
        id: Uuid::now_v7(),
        name: text::line(name, "name", text::SHORT)?,
        time_zone: zone.name().to_owned(),
        rule_set_name: RULE_SET.to_owned(),
        rule_set_version: newest.context("the default rule set is missing from this program")?.version,
    };
    write_on(conn, &Actor::program(new.id), "create_site", Clock::default().now(), |tx| {
        site::create(tx, &new)
    })?;
    Ok(new.id)
}

fn list(arguments: &ListArguments) -> anyhow::Result<ExitCode> {
    let database = arguments.database.open(Purpose::Look)?;
    {
        let mut conn = database.store.connection()?;
        for listed in user::all(&mut conn)? {
            let roles = listed.roles.0.join(",");
            if arguments.json {
                let line = serde_json::json!({
                    "username": listed.username, "display_name": listed.display_name,
                    "site_id": listed.site_id, "roles": listed.roles.0,
                });
                println!("{line}");
            } else {
                println!("{:<24} {:<32} {roles}", listed.username, listed.display_name);
            }
        }
    }
    database.close()?;
    Ok(ExitCode::SUCCESS)
}
