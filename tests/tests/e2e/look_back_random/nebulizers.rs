//! What was in a nebulizer, walked by hand: its own bottle, what it was topped up on, what was poured in, what was left.

use sellion_store::look_back::Asked;
use serde_json::Value;

use super::walk::{Found, Walk, minute_of, order};

impl Walk<'_> {
    /// What was in the nebulizer of a filling up to a minute of it; `own` as long as it is its own nebulizer's.
    fn in_nebulizer(&self, fill: &Value, until: i64, own: bool, seen: &mut Vec<(Value, i64)>) -> Found {
        let fill = self.plain.by_id("fills", fill);
        let step = (fill["id"].clone(), until);
        if seen.contains(&step) {
            return Found::default();
        }
        seen.push(step);
        let is_it = match self.asked {
            Asked::Fill(id) => fill["id"] == id.to_string(),
            Asked::Equipment(id, _) => {
                let piece = self.plain.by_id("equipment", &Value::from(id.to_string()));
                own && piece["kind"] == "nebulizer" && piece["label"] == fill["nebulizer"]
            }
            _ => self.is_bottle(&fill["bottle_id"]),
        };
        let mut found = Found { surely: is_it, possibly: false };
        if !fill["topped_up_fill_id"].is_null() {
            let made = minute_of(&fill["happened_at"]);
            found = found.join(self.in_nebulizer(&fill["topped_up_fill_id"], made, false, seen));
        }
        for (before, until) in self.unrinsed_before(fill) {
            found = found.join(self.in_nebulizer(&before, until, false, seen).only_possibly());
        }
        for (poured, at, surely) in self.poured_into(fill) {
            if at <= until {
                let came = self.in_nebulizer(&poured, at, false, seen);
                found = found.join(if surely { came } else { came.only_possibly() });
            }
        }
        seen.pop();
        found
    }

    pub(super) fn contents(&self, fill: &Value, until: i64) -> Found {
        self.in_nebulizer(fill, until, true, &mut Vec::new())
    }

    /// The fillings of one nebulizer in order.
    fn fills_of(&self, nebulizer: &Value) -> Vec<&Value> {
        let mut fills: Vec<&Value> =
            self.plain.of("fills").iter().filter(|fill| fill["nebulizer"] == *nebulizer).collect();
        fills.sort_by_key(|fill| order(fill));
        fills
    }

    fn newest(&self, nebulizer: &Value, at: i64) -> Option<&Value> {
        self.fills_of(nebulizer).into_iter().rfind(|fill| minute_of(&fill["happened_at"]) <= at)
    }

    fn next(&self, nebulizer: &Value, at: i64) -> Option<&Value> {
        self.fills_of(nebulizer).into_iter().find(|fill| minute_of(&fill["happened_at"]) > at)
    }

    /// Whether a nebulizer was rinsed in these minutes: by a check, or with the emptying of this filling.
    fn rinsed(
        &self,
        nebulizer: &Value,
        fill: Option<&Value>,
        minutes: std::ops::RangeInclusive<i64>,
    ) -> bool {
        let emptied = self.plain.of("fill_emptyings").iter().any(|emptying| {
            fill.is_some_and(|fill| emptying["fill_id"] == fill["id"])
                && emptying["rinsed"] == true
                && minutes.contains(&minute_of(&emptying["happened_at"]))
        });
        let checked = self.plain.of("equipment_checks").iter().any(|check| {
            let label = &self.plain.by_id("equipment", &check["equipment_id"])["label"];
            check["finding"] == "rinsed"
                && label == nebulizer
                && minutes.contains(&minute_of(&check["happened_at"]))
        });
        emptied || checked
    }

    /// Mix-ups from the point of view of one nebulizer: the other one, when, and whether it was poured in here.
    fn mix_ups(&self, nebulizer: &Value) -> Vec<(Value, i64, bool)> {
        let label = |id: &Value| self.plain.by_id("equipment", id)["label"].clone();
        let checks = self.plain.of("equipment_checks").iter().filter(|check| check["finding"] == "mixed_up");
        let both = checks.flat_map(|check| {
            let (into, from) = (label(&check["equipment_id"]), label(&check["other_equipment_id"]));
            let at = minute_of(&check["happened_at"]);
            [(into.clone(), from.clone(), at, true), (from, into, at, false)]
        });
        both.filter(|(here, ..)| here == nebulizer)
            .map(|(_, other, at, poured)| (other, at, poured))
            .collect()
    }

    /// What the other nebulizer of a mix-up held, if it was not rinsed out by then.
    fn held(&self, nebulizer: &Value, at: i64) -> Option<&Value> {
        let fill = self.newest(nebulizer, at)?;
        let made = minute_of(&fill["happened_at"]);
        (!self.rinsed(nebulizer, Some(fill), made..=at)).then_some(fill)
    }

    /// What was poured into a filling, or may have been, with the minute.
    fn poured_into(&self, fill: &Value) -> Vec<(Value, i64, bool)> {
        let mix_ups = self.mix_ups(&fill["nebulizer"]).into_iter();
        let here = mix_ups.filter(|(_, at, _)| {
            self.newest(&fill["nebulizer"], *at).is_some_and(|newest| newest["id"] == fill["id"])
        });
        here.filter_map(|(other, at, poured)| Some((self.held(&other, at)?["id"].clone(), at, poured)))
            .collect()
    }

    /// What was in the nebulizer before a filling and not rinsed out, each with the minute up to which it counts.
    fn unrinsed_before(&self, fill: &Value) -> Vec<(Value, i64)> {
        let (nebulizer, made) = (&fill["nebulizer"], minute_of(&fill["happened_at"]));
        if fill["rinsed"] == true {
            return Vec::new();
        }
        let mut found = Vec::new();
        let fills = self.fills_of(nebulizer);
        let before = fills.into_iter().rfind(|other| order(other) < order(fill));
        if let Some(before) = before
            && !self.rinsed(nebulizer, Some(before), minute_of(&before["happened_at"])..=made)
        {
            found.push((before["id"].clone(), made));
        }
        for (other, at, _) in self.mix_ups(nebulizer) {
            let is_next = self.next(nebulizer, at).is_some_and(|next| next["id"] == fill["id"]);
            if is_next && !self.rinsed(nebulizer, self.newest(nebulizer, at), at..=made) {
                found.extend(self.held(&other, at).map(|held| (held["id"].clone(), at)));
            }
        }
        found
    }
}
