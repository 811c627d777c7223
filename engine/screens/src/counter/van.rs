//! The van: every part that a machine at hand takes, and how many of it are here.

use crate::screen::{Field, Fields, Setting};
use crate::shelf;
use book::VanCounted;
use call::{Refused, Shop};
use machine::Machine;
use machine::faults::{Repair, RepairKind};
use std::collections::BTreeMap;

/// Most of one part.
const MOST: u32 = 999;

/// Gives a field for each part, by machine.
pub(super) fn fields(shop: &Shop) -> Vec<Fields> {
    let machines = shelf::choices(shop).into_iter().filter_map(|of| shelf::read(shop, &of.answer).ok());
    let of_machine = |machine: Machine| {
        let counted = shop.van.get(&machine.id);
        let field = |repair: &&Repair| field(&machine, repair, counted);
        let fields = machine.repairs.iter().filter(|repair| is_spare(repair)).collect::<Vec<_>>();
        let fields = fields.iter().map(field).collect();
        let note = "one that was never counted is there if it is stocked as a rule".to_owned();
        Fields { title: machine.title.clone(), note: Some(note), fields }
    };
    machines.map(of_machine).collect()
}

fn is_spare(repair: &Repair) -> bool {
    repair.kind == RepairKind::Replace
}

fn field(machine: &Machine, repair: &Repair, counted: Option<&BTreeMap<String, u32>>) -> Field {
    let part = &machine[repair.part];
    let count = counted.and_then(|of| of.get(&part.id)).map(u32::to_string);
    let rule = if repair.stocked { "stocked as a rule" } else { "not stocked as a rule" };
    Field {
        id: format!("{}/{}", machine.id, part.id),
        say: part.name.clone(),
        value: count.unwrap_or_default(),
        note: format!("{} {:.2}, {rule}", machine.currency, repair.price),
        set: Setting::Count,
    }
}

/// Counts a part.
pub(super) fn count(shop: &Shop, id: &str, value: &str) -> Result<VanCounted, Refused> {
    let unknown = || Refused::new(format!("there is no part `{id}`"), "take one that is listed");
    let (machine, part) = id.split_once('/').ok_or_else(unknown)?;
    let described = shelf::read(shop, machine)?;
    let spares = described.repairs.iter().filter(|repair| is_spare(repair));
    spares.map(|repair| &described[repair.part].id).find(|known| *known == part).ok_or_else(unknown)?;
    let count =
        value.trim().parse::<u32>().ok().filter(|count| *count <= MOST).ok_or_else(|| {
            Refused::new(format!("`{value}` is no count"), format!("write a whole number up to {MOST}"))
        })?;
    Ok(VanCounted { machine: machine.to_owned(), part: part.to_owned(), count })
}
