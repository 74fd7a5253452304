//! The list to walk with: where what is stopped is now, on paper, because not every station is in contact.

use actix_web::{
    HttpResponse, get,
    web::{Query, block},
};
use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use sellion_badge::sheet::{Fonts, RunnerError, RunnerList, RunnerPlace, render_runner_list};
use sellion_rules::{
    refusal::{Code, Refusal},
    roles::op,
};
use sellion_store::{
    PgConnection, StoreError,
    look_back::{Asked, Holding, PlaceHeld, Standing, holdings, words_for},
    site,
};

use crate::{
    auth::Caller,
    look_back::SubjectQuery,
    problem::{Problem, ProblemBody},
};

/// Where all of it is now: bottles, filled nebulizers, nebulizers and hoods, place by place. No person is on it.
#[utoipa::path(tag = "look_backs", params(SubjectQuery), responses(
    (status = 200, body = Vec<u8>, content_type = "application/pdf"),
    (status = 404, description = "No such thing here.", body = ProblemBody),
    (status = 422, description = "Not exactly one thing is named, or a font is missing.", body = ProblemBody)
))]
#[get("/api/v1/look_backs/runner_list")]
pub(crate) async fn read_runner_list(
    caller: Caller<op::ReadRunnerList>,
    subject: Query<SubjectQuery>,
) -> Result<HttpResponse, Problem> {
    let (site_id, now, asked) = (caller.site_id(), caller.now, subject.asked()?);
    let list = caller.read_store(move |conn| list(conn, site_id, asked, now)).await?;
    let fonts = caller.state().fonts.get()?;
    let pdf = block(move || render(&list, &fonts)).await;
    let pdf = pdf.map_err(|error| Problem::internal(error.to_string()))??;
    Ok(HttpResponse::Ok()
        .content_type("application/pdf")
        .insert_header(("content-disposition", "inline; filename=\"runner_list.pdf\""))
        .body(pdf))
}

fn list(
    conn: &mut PgConnection,
    site_id: uuid::Uuid,
    asked: Asked,
    now: DateTime<Utc>,
) -> Result<RunnerList, StoreError> {
    let held = holdings(conn, site_id, asked)?;
    let (site, zone) = (site::find(conn, site_id)?, site::zone(conn, site_id)?);
    Ok(RunnerList {
        site_name: site.name,
        subject: words_for(conn, asked)?,
        printed_at: format!("Printed {}", clock(now, zone)),
        places: held.into_iter().map(|held| place(held, zone)).collect(),
    })
}

fn place(held: PlaceHeld, zone: Tz) -> RunnerPlace {
    let place = match held.place {
        Standing::At(name) => name,
        Standing::Unknown => "Place not known: ask every station and the storeroom".to_owned(),
    };
    let thing = |Holding { what, since }: Holding| match since {
        Some(since) => format!("{what}; there since {}", clock(since, zone)),
        None => what,
    };
    RunnerPlace { place, things: held.things.into_iter().map(thing).collect() }
}

/// Date and time of the site's own clocks, with the offset: the same everywhere.
fn clock(at: DateTime<Utc>, zone: Tz) -> String {
    at.with_timezone(&zone).format("%Y-%m-%d %H:%M (%:z)").to_string()
}

fn render(list: &RunnerList, fonts: &Fonts) -> Result<Vec<u8>, Problem> {
    render_runner_list(list, fonts).map_err(|error| match error {
        RunnerError::NoGlyph(character) => {
            let sentence =
                format!("No font here has the character {character:?}: give the server one that has.");
            Refusal::new(Code::NoGlyph, sentence).fact("character", character.to_string()).into()
        }
        other => Problem::internal(other.to_string()),
    })
}
