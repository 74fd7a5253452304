//! Recipes as written.

use super::fields::Fields;
use super::recipe::{Ingredient, Recipe};
use super::tree::{Node, Reader, Value};
use super::values::{RuleScalar, RuleSetVersion};

/// The recipes, each with its place in the text.
pub(super) fn recipes(
    reader: &mut Reader<'_>,
    at: usize,
    node: Node,
    by: &RuleSetVersion,
) -> Vec<(usize, Recipe)> {
    let Value::List(nodes) = node.value else {
        reader.wrong(at, "recipes", "a list of recipes is expected");
        return Vec::new();
    };
    let mut recipes: Vec<(usize, Recipe)> = Vec::new();
    for (number, node) in (1_usize..).zip(nodes) {
        let (at, key) = (node.at, format!("recipes.{number}"));
        let Some(recipe) = recipe(reader, &key, node, by) else { continue };
        if recipes.iter().any(|(_, listed)| listed.is_same_as(&recipe)) {
            reader.wrong(at, &key, "the same recipe is written twice");
        }
        recipes.push((at, recipe));
    }
    recipes
}

fn recipe(reader: &mut Reader<'_>, key: &str, node: Node, by: &RuleSetVersion) -> Option<Recipe> {
    let mut fields = Fields::of(reader, node.at, key, node)?;
    let agent = fields.word(reader, "agent");
    let solution = fields.word(reader, "solution");
    let ingredients = fields.need(reader, "ingredients").map(|(_, node)| ingredients(reader, key, node));
    let instructions = fields.optional_text(reader, "instructions").unwrap_or_default();
    let life = fields.scalar(reader, "life_days");
    let backing = fields.backing(reader);
    fields.end(reader);
    let life_days = match life? {
        (_, value) if value.is_not_set() => None,
        (at, RuleScalar::Number(days)) => match u32::try_from(days) {
            Ok(days) if days > 0 => Some(days),
            _ => {
                reader.wrong(at, key, format!("life_days: {days} is no number of days"));
                return None;
            }
        },
        (at, _) => {
            reader.wrong(at, key, "life_days: a whole number or \"not_set\" is expected");
            return None;
        }
    };
    let backing = backing?;
    Some(Recipe {
        agent: agent?,
        solution: solution?,
        ingredients: ingredients??,
        instructions,
        life_days,
        source: backing.source,
        status: backing.status,
        confirmation: backing.confirmation,
        by: by.clone(),
    })
}

fn ingredients(reader: &mut Reader<'_>, key: &str, node: Node) -> Option<Vec<Ingredient>> {
    let at = node.at;
    let nodes = match node.value {
        Value::List(nodes) if !nodes.is_empty() => nodes,
        _ => {
            reader.wrong(at, key, "ingredients: a list of at least one is expected");
            return None;
        }
    };
    let count = nodes.len();
    let ingredients: Vec<_> = nodes.into_iter().filter_map(|node| ingredient(reader, key, node)).collect();
    (ingredients.len() == count).then_some(ingredients)
}

fn ingredient(reader: &mut Reader<'_>, key: &str, node: Node) -> Option<Ingredient> {
    let mut fields = Fields::of(reader, node.at, key, node)?;
    let amount = fields.text(reader, "amount");
    let unit = fields.text(reader, "unit").map(|(_, unit)| unit);
    let of = fields.text(reader, "of").map(|(_, of)| of);
    fields.end(reader);
    let (at, amount) = amount?;
    if !is_decimal(&amount) {
        reader.wrong(at, key, format!("amount: \"{amount}\" is no decimal number, as 0.83"));
        return None;
    }
    Some(Ingredient { amount, unit: unit?, of: of? })
}

fn is_decimal(text: &str) -> bool {
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    match text.split_once('.') {
        Some((whole, rest)) => digits(whole) && digits(rest),
        None => digits(text),
    }
}
