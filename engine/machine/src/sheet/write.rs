//! From the string to the text of a description. What is assumed is said in a comment where it stands.

use super::{Item, Loose, Mains, Sheet};
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// The state that a string without brackets has.
const ON: &str = "on";

pub(super) fn description(sheet: &Sheet, string: &Loose) -> String {
    let states: Vec<String> = {
        let named: BTreeSet<&String> = string.parts.iter().flat_map(|item| &item.states).collect();
        if named.is_empty() { vec![ON.to_owned()] } else { named.into_iter().cloned().collect() }
    };
    let mut out = head(sheet, string);
    for item in &string.parts {
        part(&mut out, item, &states);
    }
    for (index, wire) in string.wires.iter().enumerate() {
        let _ = write!(out, "\n[[lead]]\nid = \"S{}\"\nfrom = \"{}\"\nto = \"{}\"\n", index + 1, wire.from, wire.to);
        if let Some(color) = &wire.color {
            let _ = writeln!(out, "color = \"{color}\"");
        }
    }
    usage(&mut out, string, &states);
    out
}

fn head(sheet: &Sheet, string: &Loose) -> String {
    let quoted = |text: &str| toml::Value::String(text.to_owned()).to_string();
    let loads = string.parts.iter().filter(|item| ["heater", "lamp", "motor"].contains(&item.kind));
    let watts: f64 = loads.map(watts).sum();
    let (kind, cord, volts, hertz) = match (string.mains, string.second_leg) {
        (Mains::Line230, _) => ("single-phase", "grounded", 230, 50),
        (Mains::Legs120, true) => ("split-phase", "four-wire", 240, 60),
        (Mains::Legs120, false) => ("single-phase", "grounded", 120, 60),
    };
    format!(
        "# Taken from a string read off the sheet in the cabinet. What the sheet did not say is assumed: one cover before\n\
         # everything, every hazard, usual faults. Write in what you find out.\n\ncallwright = 1\n\n[machine]\nid = {}\n\
         kind = \"machine\"\ntitle = {}\n\n[plate]\nvolts = {volts}\nwatts = {}\nhertz = {hertz}\n\n[supply]\nkind = \"{kind}\"\n\
         receptacle = \"as found\"\ncord = \"{cord}\"\nbreaker_amps = {}\nreceptacle_place = \"wall\"\nblock_place = \"inside\"\n\
         panel_place = \"panel\"\n\n[[zone]]\nid = \"heat\"\nrest_c = 22\n\n[[place]]\nid = \"wall\"\nsay = \"at the receptacle\"\n\
         hazards = [\"shock\"]\n\n[[place]]\nid = \"panel\"\nsay = \"at the breaker panel of the house\"\nhazards = [\"shock\"]\n\n\
         [[place]]\nid = \"inside\"\nsay = \"inside the machine\"\nexposed_by = [[\"covers\"]]\n\
         hazards = [\"shock\", \"stored-charge\", \"hot-surface\", \"scald\", \"sharp-edge\", \"fuel-gas\", \"water\", \"refrigerant\",\n           \"moving-parts\", \"glass\", \"dirt\"]\n\n[[cover]]\nid = \"covers\"\n\
         say = \"take off what is before the wiring\"\nsay_back = \"put everything back\"\nside = \"front\"\nminutes_off = 6\n\
         hazards = [\"shock\", \"sharp-edge\", \"heavy-lift\"]\n",
        quoted(&sheet.id),
        quoted(&sheet.title),
        watts.round().max(LEAST_WATTS),
        if string.second_leg { if watts > 6500.0 { 50 } else { 30 } } else { 20 },
    )
}

/// Ohms and reactance of a motor's winding, standing and running: what it draws running is a guess from a usual one.
fn winding(item: &Item) -> [f64; 4] {
    let ohms = item.ohms.unwrap_or(5.0);
    [ohms, 1.6 * ohms, 2.8 * ohms, 4.0 * ohms].map(|value| (value * 100.0).round() / 100.0)
}

/// Watts of a machine that is all coils.
const LEAST_WATTS: f64 = 8.0;

/// Watts of a heater, a lamp, or a running motor; a kilowatt and fifteen watts where nothing is said.
fn watts(item: &Item) -> f64 {
    if item.kind == "motor" {
        let [_, _, running_ohms, running_reactance] = winding(item);
        return item.volts * item.volts * running_ohms
            / (running_ohms * running_ohms + running_reactance * running_reactance);
    }
    let usual = if item.kind == "heater" { 1000.0 } else { 15.0 };
    item.watts.or_else(|| item.ohms.map(|ohms| item.volts * item.volts / ohms)).unwrap_or(usual)
}

fn part(out: &mut String, item: &Item, states: &[String]) {
    let name = toml::Value::String(item.name.clone());
    let _ =
        write!(out, "\n[[part]]\nid = \"{}\"\nkind = \"{}\"\nname = {name}\nplace = \"inside\"\n", item.id, item.kind);
    let list = |all: &[String]| all.iter().map(|one| format!("\"{one}\"")).collect::<Vec<_>>().join(", ");
    let _ = match item.kind {
        "switch" => {
            let closed: &[String] = if item.states.is_empty() { states } else { &item.states };
            writeln!(
                out,
                "positions = [\"off\", {}]\ncontacts = [{{ from = \"1\", to = \"2\", closed_in = [{}] }}]",
                list(states),
                list(closed)
            )
        }
        "door-switch" => writeln!(out, "contacts = [{{ from = \"1\", to = \"2\", closed_in = [\"shut\"] }}]"),
        "thermostat" => {
            let trips = item.trips_c.unwrap_or(100.0).round();
            writeln!(out, "zone = \"heat\"\ntrips_c = {trips}\nresets_c = {}", trips - 15.0)
        }
        "heater" | "lamp" => writeln!(out, "watts = {}\nvolts = {}", watts(item).round(), item.volts),
        "motor" => {
            let run = winding(item);
            writeln!(
                out,
                "volts = {}\nrun = {{ from = \"1\", to = \"2\", ohms = {}, reactance = {}, running_ohms = {}, running_reactance = {} }}",
                item.volts, run[0], run[1], run[2], run[3]
            )
        }
        "valve" => {
            let (ohms, volts) = (item.ohms.unwrap_or(450.0), item.volts);
            writeln!(
                out,
                "coil = {{ from = \"1\", to = \"2\", ohms = {ohms}, pull_in_volts = {}, drop_out_volts = {} }}",
                0.65 * volts,
                0.35 * volts
            )
        }
        "capacitor" => writeln!(out, "microfarads = {}", item.microfarads.unwrap_or(10.0)),
        _ => Ok(()),
    };
}

fn usage(out: &mut String, string: &Loose, states: &[String]) {
    let of = |kind: &str| string.parts.iter().filter(|item| item.kind == kind).collect::<Vec<_>>();
    let (switches, doors) = (of("switch"), of("door-switch"));
    let set = |position: &str| {
        let at = |item: &&Item| format!("{} = \"{position}\"", item.id);
        switches.iter().map(at).collect::<Vec<_>>()
    };
    let doors_shut = doors.iter().map(|item| format!("{} = \"shut\"", item.id));
    let rest: Vec<String> = set("off").into_iter().chain(doors_shut).collect();
    let _ = write!(
        out,
        "\n[[state]]\nid = \"off\"\nsay = \"plugged in, everything off\"\nset = {{ {} }}\n",
        rest.join(", ")
    );
    for state in states {
        let say = if state == ON { "switched on".to_owned() } else { format!("set to {state}") };
        let _ = write!(
            out,
            "\n[[state]]\nid = \"{state}\"\nsay = \"{say}\"\nfrom = \"off\"\ndo = [\"set it to {state}\"]\nset = {{ {} }}\n",
            set(state).join(", ")
        );
    }
    let list = states.iter().map(|state| format!("\"{state}\"")).collect::<Vec<_>>().join(", ");
    for (kind, what) in [("heater", "heats"), ("lamp", "lights"), ("motor", "sounds")] {
        for item in of(kind) {
            let (key, value) = if kind == "heater" {
                ("parts", format!("[\"{}\"]", item.id))
            } else {
                ("part", format!("\"{}\"", item.id))
            };
            let name = toml::Value::String(format!("the {}", item.name));
            let _ = write!(
                out,
                "\n[[observe]]\nid = \"{}\"\nwhat = \"{what}\"\n{key} = {value}\nstates = [{list}]\nname = {name}\n",
                item.id
            );
        }
    }
    for item in of("valve") {
        let _ = write!(
            out,
            "\n[[observe]]\nid = \"{}\"\nwhat = \"flows\"\npart = \"{}\"\nstates = [{list}]\nname = \"what comes through the {}\"\n",
            item.id, item.id, item.name
        );
    }
    let _ = write!(out, "\n[[observe]]\nid = \"trips\"\nwhat = \"trips\"\nstates = [{list}]\n");
    out.push_str(
        "\n[[proof]]\nid = \"bond\"\nsay = \"frame to the ground pin of the plug\"\n\
         ohms = { from = \"CH\", to = \"plug.G\", at_most = 0.3 }\nsource = \"EN 50678, protective conductor, cord up to 5 m\"\n",
    );
    for state in states {
        let _ = write!(
            out,
            "\n[[proof]]\nid = \"run-{state}\"\nsay = \"run it: {state}\"\nrun = {{ state = \"{state}\" }}\nsource = \"common practice, no source\"\n"
        );
    }
}
